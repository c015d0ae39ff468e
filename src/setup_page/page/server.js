// Asks the tool. Every answer is { ok, status, ...what it said }.

const answer = async (response) => {
  const kind = response.headers.get("content-type") ?? "";
  const said = kind.includes("json") ? await response.json() : { says: (await response.text()).trim(), hint: "" };
  return { ok: response.ok, status: response.status, ...said };
};

const gone = { ok: false, status: 0, says: "Gripline does not answer any more.", hint: "If it was stopped, start it again and open the new address." };

export const ask = async (address) => {
  try {
    return await answer(await fetch(address));
  } catch {
    return gone;
  }
};

export const tell = async (address, what = {}) => {
  try {
    const headers = { "Content-Type": "application/json" };
    return await answer(await fetch(address, { method: "POST", headers, body: JSON.stringify(what) }));
  } catch {
    return gone;
  }
};

export const pause = (ms) => new Promise((done) => { setTimeout(done, ms); });
