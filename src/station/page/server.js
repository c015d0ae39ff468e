// Asks the station. Every answer is { ok, status, ...what it said }; a lost network is an answer too.

const lost = { ok: false, status: 0, says: "The laptop does not answer.", hint: "Go nearer to the wifi; what was sent is kept." };

const read = async (response) => {
  const kind = response.headers.get("content-type") ?? "";
  const offset = response.headers.get("upload-offset");
  const said = kind.includes("json") ? await response.json() : {};
  return { ok: response.ok, status: response.status, offset: offset === null ? null : Number(offset), ...said };
};

const go = async (address, options) => {
  try {
    return await read(await fetch(address, options));
  } catch {
    return lost;
  }
};

export const ask = (address) => go(address, {});

export const tell = (address, what = {}, method = "POST") =>
  go(address, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(what) });

export const remove = (address) => go(address, { method: "DELETE" });

export const sendPiece = (address, offset, piece) =>
  go(address, { method: "PATCH", headers: { "Upload-Offset": String(offset), "Content-Type": "application/octet-stream" }, body: piece });

export const pause = (ms) => new Promise((done) => { setTimeout(done, ms); });
