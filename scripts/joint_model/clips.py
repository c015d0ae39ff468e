from fit import *
import csv
def ctruth(name):
    return {int(q["frame"]):q for q in csv.DictReader(open(f"../joint/fixtures/{name}/truth_frames.csv"))}
if __name__=="__main__":
    opts=json.loads(sys.argv[2]) if len(sys.argv)>2 else {}
    out=open(sys.argv[1],"w"); import traceback
    for i,line in enumerate(open("clips.jsonl")):
        d=json.loads(line)
        if not d["from_right"]: print(d["kind"],"left: skipped"); continue
        if abs(d["aim"][2])>1e-9 or any(abs(x)>1e-9 for x in d["aim"][:2]): print(d["kind"],"aim",d["aim"])
        t=time.process_time()
        try:
            f=Fit(d,opts); c=f.run(); m,s=f.mixed()
        except Exception as ex:
            traceback.print_exc(); print(d["kind"],"FAILED"); continue
        el=time.process_time()-t
        r=f.r
        T=ctruth(d["kind"])
        rows=[]
        for k,i2 in enumerate(r.frames):
            q=T.get(i2); td=d["today"][i2]
            if q is None or td is None: continue
            if float(q["v_m_s"])<=0.02: continue
            sl=td["slip"] is not None and abs(float(q["omega_rad_s"]))*f.sd0[0]>=0
            dv=td["deviation"] or [np.nan]*2
            rows.append([float(q["v_m_s"]),float(q["slip_ratio"]) if sl else np.nan,float(q["deviation_m"]),*m[k],*s[k],td["speed"][0],td["slip"][0] if sl else np.nan,dv[0],td["speed"][1],td["slip"][1] if sl else np.nan,dv[1]])
        a=np.array(rows)
        line=f"{d['kind']:12s} n {len(a)} cpu {el:.1f} today {d['best_s']:.2f}+{d['draws_s']:.2f} P(slip) {f.H if f.H is None else round(f.H,3)}"
        for c_,name,u in((0,"v mm/s",1e3),(1,"slip %",100),(2,"dev mm",1e3)):
            for who,o in(("T",9),("J",3)):
                e=a[:,o+c_]-a[:,c_];S_=a[:,o+3+c_];ok=np.isfinite(e)&np.isfinite(a[:,9+c_])
                line+=f" | {name if who=='T' else ''} {who} rms {u*np.sqrt(np.mean(e[ok]**2)):.2f} held {100*np.mean(np.abs(e[ok])<=1.96*S_[ok]):.0f} half {u*1.96*np.mean(S_[ok]):.2f}"
        print(line,flush=True)
        print("     ",f"rho {c['rho']:.2f} c {c['c']:.2f} q {c['qa']:.3g} {c['qc']:.3g} {c['qw']:.3g} cps {[round(float(x),3) for x in c['cps']]} te {c['te']} tg {c['tg']} {''.join('x' if v else '-' for v in c['groups'].values())} ",flush=True)
        out.write(json.dumps(dict(kind=d["kind"],a=a.tolist(),cpu=el))+"\n")
