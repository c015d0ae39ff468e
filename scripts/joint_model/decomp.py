from score import *
p=load("dump.jsonl","joint.jsonl")
for c in (0,2):
    a=[];b=[]
    for d,r in p:
        q=frames(d,r)
        e=(q["d"]-q["t"])[:,c]; j=(q["j"]-q["t"])[:,c]
        fps=1/np.median(np.diff(d["times_s"]))
        if d["kind"] in("plain","soft"): print(d["kind"],d["seed"],round(fps),c,"today rms %.2f mean %.2f rms-of-first-differences %.2f | joint %.2f %.2f"%(1e3*np.sqrt(np.mean(e**2)),1e3*e.mean(),1e3*np.std(np.diff(e)),1e3*np.sqrt(np.mean(j**2)),1e3*j.mean()), "cam", [round(x,2) for x in d["camera"]["position"]], "q today",d["body_jerk"], "breaks",[round(x,2) for x in d["body_breaks"]])
