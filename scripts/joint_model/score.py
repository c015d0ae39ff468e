import json,sys,numpy as np,math
from collections import defaultdict
def stats(rows):
    pass
def load(dump,res):
    D=[json.loads(l) for l in open(dump)]
    out=[]
    for l in open(res):
        r=json.loads(l); d=D[r["i"]]
        assert d["kind"]==r["kind"] and d["seed"]==r["seed"]
        out.append((d,r))
    return out
def frames(d,r,key="today"):
    rad=d["radius_true"]; q=dict(t=[],j=[],js=[],d=[],ds=[])
    for k,i in enumerate(r["frames"]):
        t=d["truth"][i]; td=d[key][i]
        if not t or not td or t["since"]<0.1: continue
        rim=t["omega"]*rad
        sl=td["slip"] is not None and rim>0.3
        T=[t["v"],1-t["v"]/rim if sl else np.nan,t["left"]]
        q["t"].append(T); m=list(r["m"][k]); 
        if not sl: m[1]=np.nan
        q["j"].append(m);q["js"].append(r["s"][k])
        dv=td["deviation"] or [np.nan,np.nan]; s=td["slip"] if sl else [np.nan,np.nan]
        q["d"].append([td["speed"][0],s[0],dv[0]]);q["ds"].append([td["speed"][1],s[1],dv[1]])
    return {k:np.array(v) for k,v in q.items()}
def table(pairs,key="today",group=lambda d:d["kind"]):
    G=defaultdict(list)
    for d,r in pairs: G[group(d)].append((d,r)); G["ALL"].append((d,r))
    for g,ps in G.items():
        line=f"{g:13s} {len(ps):3d}"
        Q=[frames(d,r,key) for d,r in ps]
        for c,name,u in((0,"v mm/s",1e3),(1,"slip %",100),(2,"dev mm",1e3)):
            for who,m,s in(("T","d","ds"),("J","j","js")):
                e=np.concatenate([q[m][:,c]-q["t"][:,c] for q in Q]); S=np.concatenate([q[s][:,c] for q in Q]); ok=np.isfinite(e)
                e,S=e[ok],S[ok]
                worst=min((np.mean(np.abs(q[m][:,c]-q["t"][:,c])[np.isfinite(q["t"][:,c])]<=1.96*q[s][:,c][np.isfinite(q["t"][:,c])]) for q in Q if np.isfinite(q["t"][:,c]).any()),default=np.nan)
                line+=f" | {name if who=='T' else ''} {who} rms {u*np.sqrt(np.mean(e**2)):.2f} held {100*np.mean(np.abs(e)<=1.96*S):.0f} w {100*worst:.0f} half {u*1.96*np.mean(S):.2f}"
        print(line)
if __name__=="__main__":
    p=load(sys.argv[1],sys.argv[2])
    table(p)
    print("cpu",np.mean([r["cpu"] for _,r in p]),"today best_s",np.mean([d["best_s"] for d,_ in p]),"draws_s (60)",np.mean([d["draws_s"] for d,_ in p]))
