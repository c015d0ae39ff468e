from joint import *
GROUPS={"sway":("hc","hs"),"shift":("Ac","As"),"hop":("Zc","Zs"),"uneven":("Uc","Us")}
ONCE=0.004
class Fit:
    def __init__(self,d,opts=None):
        self.o=opts or {}
        self.r=r=Run(d,self.o); self.d=d
        self.sd0=r.sd.copy(); self.step=np.median(np.diff(r.ft))
        self.evals=0
        end=d["pull_end"]
        if end is not None and end>r.ft[-1]-3*self.step: end=None
        br=sorted(set(d["body_breaks"]+(d["wheel_breaks"] or [])))
        cps=[]
        for b in br:
            if all(abs(b-c)>3*self.step for c in cps) and b>(r.t0 or 0)+3*self.step and b<r.ft[-1]-3*self.step: cps.append(b)
        if end is not None:
            near=[c for c in cps if abs(c-end)<4*self.step]
            if near: end=near[0]
            elif end>(r.t0 or 0)+4*self.step: cps.append(end)
        self.c=dict(t0=r.t0,cps=sorted(cps),te=end,tg=None,slips=r.haswheel,groups={g:True for g in GROUPS},
                    qa=5.0,qc=0.1,qw=20.0,c=1.5,rho=0.1)
        if not r.haswheel: self.c["groups"]["uneven"]=False
        self.ref=r.frames_ref
    def args(self,c):
        sd=self.sd0.copy()
        for g,on in c["groups"].items():
            if not on:
                for n in GROUPS[g]: sd[S[n]]=1e-7
        self.r.sd=sd
        mo=dict(t0=c["t0"],cps=c["cps"],tg=c["tg"] if c["slips"] else None,te=c["te"])
        return (c["qa"],c["qc"],c["qw"],c["c"],c["c"],c["rho"]),mo,c["slips"]
    def penal(self,c):
        return -0.5*(math.log(c["qa"]/3)/3)**2-0.5*(math.log(c["qc"]/0.1)/2)**2-0.5*(math.log(c["qw"]/30)/3)**2
    def ll(self,c):
        self.evals+=1
        hy,mo,sl=self.args(c)
        try:
            su=self.r.setup(self.ref_of(c),mo,sl)
            l=self.r.filter(su,hy,mo,sl)
        except np.linalg.LinAlgError: return -1e18
        return l+self.penal(c) if np.isfinite(l) else -1e18
    def ref_of(self,c): return self.ref
    def relin(self,c,n=2):
        hy,mo,sl=self.args(c)
        for _ in range(n):
            try: l,new,_=self.r.smooth_pass(self.ref,hy,mo,sl)
            except np.linalg.LinAlgError: return False
            if not np.isfinite(new).all(): return False
            self.ref=new
        self.r.observe(self.ref)
        return True
    def tune(self,c,keys,step=4.0,rounds=2):
        best=self.ll(c)
        for _ in range(rounds):
            for k in keys:
                moved=False
                for s in (1,-1):
                    while True:
                        t=dict(c)
                        if k=="rho":
                            z=math.atanh(c[k])+s*0.04*step; t[k]=math.tanh(z)
                            if not 0<=t[k]<0.97: break
                        elif k=="c": t[k]=c[k]*step**(0.25*s)
                        else:
                            t[k]=c[k]*step**s
                            if not (self.o.get('qmin',1e-4) if k in('qa','qc') else 1e-4)<=t[k]<1e6: break
                        l=self.ll(t)
                        if l>best+0.01: best=l;c=t;moved=True
                        else: break
                    if moved: break
            step=math.sqrt(step)
        return c,best
    def shifts(self,c):
        """moments that may move: list of (name,setter)"""
        out=[]
        if c["t0"] is not None: out.append(("t0",c["t0"]))
        for i,t in enumerate(c["cps"]): out.append((i,t))
        if c["slips"] and c["tg"] is not None: out.append(("tg",c["tg"]))
        return out
    def moved(self,c,name,t):
        n=dict(c); n["cps"]=list(c["cps"])
        if name in("t0","tg"): n[name]=t
        else:
            if c["te"]==c["cps"][name]: n["te"]=t
            n["cps"][name]=t; 
        return n
    def move(self,c,best):
        for name,t in self.shifts(c):
            h=2*self.step
            while h>0.2*self.step:
                done=False
                for s in (1,-1):
                    cur=c[name] if name in("t0","tg") else c["cps"][name]
                    n=self.moved(c,name,cur+s*h)
                    l=self.ll(n)
                    if l>best+0.01: c,best=n,l; done=True;break
                if not done: h/=2
        return c,best
    def run(self):
        c=self.c; r=self.r
        self.relin(c,3)
        if self.o.get("robust"):
            for _ in range(3):
                for rr,places in((r.rs,r.st),)+(((r.rw,r.wh),) if r.haswheel else ()):
                    z=np.hypot(rr[:,0],rr[:,1]); sd=np.nanmedian(z[np.array(r.counts)])/1.18
                    for k in range(len(places)):
                        if places[k] and z[k]>4.5*sd: places[k]=None
                self.relin(c,2)
        HY=["qa","qc","qw","c","rho"]
        c,l=self.tune(c,HY,4.0,1)
        c,l=self.move(c,l)
        self.relin(c,1); l=self.ll(c)
        # more breaks
        for _ in range(3):
            cand=[]
            lo=(c["t0"] or r.ft[0])+4*self.step; hi=r.ft[-1]-4*self.step
            for t in np.arange(lo,hi,2*self.step):
                if all(abs(t-x)>3*self.step for x in c["cps"]):
                    n=dict(c);n["cps"]=sorted(c["cps"]+[t]); cand.append((self.ll(n),t,n))
            if not cand: break
            b=max(cand,key=lambda q:q[0])
            if b[0]-l<math.log(len(cand))+0.5: break
            c,l=b[2],b[0]
            c,l=self.move(c,l)
            c,l=self.tune(c,HY,2.0,1)
        if c["te"] is None and c["cps"]: pass
        hyps=[]
        # never slips
        base=c
        keep=self.ref.copy()
        if r.haswheel:
            best1=(l,c)
            # regrip times
            grid=sorted(set([x for x in c["cps"]]+list(np.arange((c["t0"] or r.ft[0])+3*self.step,r.ft[-1]-2*self.step,3*self.step))))
            if self.o.get("free"): grid=[t for t in grid if c["te"] is not None and t>=c["te"]]
            for t in grid:
                n=dict(c);n["tg"]=t
                q=self.ll(n)
                if q>best1[0]: best1=(q,n)
            l1,c1=best1
            c1,l1=self.tune(c1,["qw","qa"],4.0,1); c1,l1=self.move(c1,l1)
            self.relin(c1,1); l1=self.ll(c1); ref1=self.ref
            self.ref=keep
            c0=dict(base);c0["slips"]=False;c0["tg"]=None
            self.relin(c0,2)
            c0,l0=self.tune(c0,["qa","qc","c"],4.0,1); c0,l0=self.move(c0,l0); l0=self.ll(c0); ref0=self.ref
            # other hypothesis kept for the mixture
            l0+=math.log(0.5);l1+=math.log(0.5)-math.log(3)
            if self.o.get('free'): l0=-1e9
            if l0>l1: c,l,self.ref,self.alt=c0,l0,ref0,(c1,l1,ref1)
            else: c,l,self.ref,self.alt=c1,l1,ref1,(c0,l0,ref0)
        else: self.alt=None
        self.r.observe(self.ref)
        l=self.ll(c)
        # once-a-turn groups
        for g in GROUPS:
            n=dict(c);n["groups"]=dict(c["groups"]);n["groups"][g]=not c["groups"][g]
            if n["groups"][g] and g=="uneven" and not r.haswheel: continue
            q=self.ll(n)
            if q>l: c,l=n,q
        self.relin(c,1)
        c,l=self.tune(c,HY,2.0,2)
        c,l=self.move(c,l)
        self.c=c; self.relin(c,2); self.l=self.ll(c)
        return c
    def final(self,c,ref,n=1):
        hy,mo,sl=self.args(c)
        for k in range(n):
            l,new,Vs=self.r.smooth_pass(ref,hy,mo,sl,cov=k==n-1)
            ref=new
        # likelihood about the new reference
        e,var=self.r.estimates(ref,Vs)
        return l+self.penal(c),e,var
    def mixed(self):
        c=self.c
        l,e,var=self.final(c,self.ref,2)
        self.own=(e,var)
        shift=np.zeros_like(e);extra=np.zeros_like(e)
        self.H=None
        def factor(alts):
            nonlocal shift,extra
            ls=np.array([l]+[a[0] for a in alts]);ls[1:]=np.where(np.isfinite(ls[1:]),ls[1:],-1e18); p=np.exp(ls-ls.max());p/=p.sum()
            ms=np.array([e]+[a[1] for a in alts]);vs=np.array([var]+[a[2] for a in alts])
            ok=np.isfinite(ms).all((1,2)); p=p*ok;p/=p.sum(); ms[~ok]=0;vs[~ok]=0
            m=np.einsum("j,jkl->kl",p,ms)
            shift+=m-e
            extra+=np.einsum("j,jkl->kl",p,(ms-m)**2+vs)-var
            return p
        for g in GROUPS:
            n=dict(c);n["groups"]=dict(c["groups"]);n["groups"][g]=not c["groups"][g]
            if n["groups"][g] and g=="uneven" and not self.r.haswheel: continue
            if self.ll(n)>self.l-6: factor([self.final(n,self.ref,2)])
        self.r.observe(self.ref)
        for name,t in self.shifts(c):
            alts=[]
            for s in (1,-1):
                for h in (0.5,1,2,3,4.5,6):
                    n=self.moved(c,name,t+s*h*self.step)
                    self.r.observe(self.ref)
                    if self.ll(n)<self.l-6: break
                    w={0.5:0.5,1:0.75,2:1,3:1.25,4.5:1.5,6:1.5}[h]/0.5
                    a=self.final(n,self.ref,1); alts.append((a[0]+math.log(w),a[1],a[2]))
            if alts: factor(alts)
        if self.alt is not None and not self.o.get('free'):
            ca,la,ra=self.alt
            n=dict(ca);n["groups"]=c["groups"];n["c"]=c["c"];n["rho"]=c["rho"]
            try: a=self.final(n,ra,2)
            except np.linalg.LinAlgError: a=(-1e18,e,var)
            pr=-math.log(3) if ca["slips"] else math.log(3)
            p=factor([(a[0]+pr,a[1],a[2])])
            self.H=p[1] if ca["slips"] else p[0]
        m=e+shift; v=np.maximum(var+extra,0.0*var)
        v[:,1]+=ONCE**2
        return m,np.sqrt(v)
def truth(d,r):
    T=np.full((len(r.frames),4),np.nan)
    for k,i in enumerate(r.frames):
        t=d["truth"][i]
        if t: T[k]=[t["v"],1-t["v"]/(t["omega"]*d["radius_true"]) if t["omega"]>0.1 else 0,t["left"],t["since"]]
    return T
if __name__=="__main__":
    which=sys.argv[1]; out=open(sys.argv[2],"a"); opts=json.loads(sys.argv[3]) if len(sys.argv)>3 else {}
    lo,hi,st=[int(x) for x in which.split(":")]
    for i,line in enumerate(open(opts.get("dump","dump.jsonl"))):
        if not(lo<=i<hi and (i-lo)%st==0): continue
        d=json.loads(line)
        t=time.process_time()
        try:
            f=Fit(d,opts); c=f.run(); m,s=f.mixed()
        except Exception as ex:
            import traceback; traceback.print_exc()
            print(i,d["kind"],d["seed"],"FAILED",repr(ex)); continue
        el=time.process_time()-t
        r=f.r
        rec=dict(i=i,kind=d["kind"],seed=d["seed"],frames=[int(x) for x in r.frames],m=m.tolist(),s=s.tolist(),own=np.sqrt(f.own[1]).tolist(),cpu=el,evals=f.evals,H=f.H,c={k:v for k,v in c.items()},
           statics={n:[float(f.ref[0,S[n]])] for n in NAMES})
        out.write(json.dumps(rec)+"\n");out.flush()
        T=truth(d,r); ok=T[:,3]>0.1
        h=np.abs(m-T[:,:3])<=1.96*s
        sl=ok&np.array([d["today"][k]["slip"] is not None for k in r.frames])
        print(i,d["kind"],d["seed"],f"n {len(r.frames)} cpu {el:.1f} evals {f.evals} held v {h[ok,0].mean():.2f} slip {h[sl,1].mean():.2f} dev {h[ok,2].mean():.2f} rms v {np.sqrt(np.mean((m-T[:,:3])[ok,0]**2)):.4f} slip {np.sqrt(np.mean((m-T[:,:3])[sl,1]**2)):.4f} P(slip) {f.H} ll {f.l:.1f} rho {c['rho']:.2f} c {c['c']:.2f} q {c['qa']:.3g} {c['qc']:.3g} {c['qw']:.3g} cps {[round(x,3) for x in c['cps']]} te {c['te']} tg {c['tg']} {''.join('x' if v else '-' for v in c['groups'].values())}",flush=True)
