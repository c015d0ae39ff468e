from score import *
# sliding frames and whole-run worst
import sys
dump,res=sys.argv[1],sys.argv[2]
p=load(dump,res)
if len(sys.argv)>3:
    p=[x for x in p]
table(p)
E={}
for who in("T","J"): E[who]=[[],[]]
n=0
runs=set()
for d,r in p:
    q=frames(d,r)
    if not len(q["t"]): continue
    sl=q["t"][:,1]>0.01
    if sl.any(): runs.add((d["kind"],d["seed"]))
    n+=sl.sum()
    for who,m,s in(("T","d","ds"),("J","j","js")):
        E[who][0]+=list((q[m][:,1]-q["t"][:,1])[sl]);E[who][1]+=list(q[s][:,1][sl])
for who,(e,s) in E.items():
    if len(e): e=np.array(e);s=np.array(s);print("frames slipping >1 %:",len(e),"in",len(runs),"runs",who,f"rms {100*np.sqrt(np.nanmean(e**2)):.2f} % held {100*np.mean(np.abs(e)<=1.96*s):.1f} half {100*1.96*np.mean(s):.2f} %")
print("cpu joint",np.mean([r["cpu"] for _,r in p]),"n failed today none")
