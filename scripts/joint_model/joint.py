import os
os.environ.setdefault("OPENBLAS_NUM_THREADS","1")
import json, sys, time, math
import numpy as np

ND=13   # dynamic: x y th v a kap phi w b | four error states
X,Y,TH,V,A,KAP,PHI,W,B=range(9)
NAMES=["R","rm","beta","hst","ahead","left","face","hx","hz","tau","yaw","hc","hs","Ac","As","Zc","Zs","Uc","Us",
       "lf","k1","r1","r2","r3","px","py","pz"]
S={n:ND+i for i,n in enumerate(NAMES)}
N=ND+len(NAMES)
START_A,START_B,JUMP_A,JUMP_B=8.0,15.0,1.5,6.0
WANDER=0.04
SWAY=("hc","hs","Ac","As","Zc","Zs","Uc","Us")

def rot(v):
    t=np.linalg.norm(v)
    K=np.array([[0,-v[2],v[1]],[v[2],0,-v[0]],[-v[1],v[0],0]])
    if t<1e-9: return np.eye(3)+K
    return np.eye(3)+math.sin(t)/t*K+(1-math.cos(t))/t**2*K@K

class Run:
    def __init__(self,d,opts):
        self.d=d; self.o=opts
        self.size=d["size"]
        cam=d["camera"]
        self.R0=np.array(cam["rotation"]).reshape(3,3)
        self.centre=np.array(cam["centre"])
        today=d["today"]
        self.frames=[i for i,t in enumerate(today) if t is not None]
        self.f0=self.frames[0]
        p=d["priors"]
        self.tau0=p["readout"][0]
        self.haswheel=any(today[i]["wheel"] for i in self.frames)
        self.t0=d["release"]
        # frame knots
        self.ft=[];self.st=[];self.wh=[]
        row=0.5
        for i in self.frames:
            s=d["sticker"][i]
            if s: row=s[4]
            self.ft.append(d["times_s"][i]+row*self.tau0)
            self.st.append(s); self.wh.append(d["wheel"][i] if self.haswheel else None)
        self.ft=np.array(self.ft)
        self.rows=[s[4] if s else row for s in self.st]
        # last 8 at rest count
        self.counts=[True]*len(self.frames)
        if self.t0 is not None:
            rest=[k for k in range(len(self.ft)) if self.ft[k]<=self.t0]
            for k in rest[:-8]: self.counts[k]=False
            # drop the frames before the first that counts
            cut=max(0,len(rest)-8)
        else: cut=0
        for name in ("frames","st","wh","rows","counts"): setattr(self,name,getattr(self,name)[cut:])
        self.ft=self.ft[cut:]
        # priors of statics
        m=np.zeros(N);sd=np.ones(N)
        def put(n,v,s): m[S[n]]=v; sd[S[n]]=s
        put("R",*p["radius"]); put("rm",*(p["mark_radius"] or [0.6*p["radius"][0],0.01]))
        put("beta",0,10.0)
        put("hst",*p["height"]); put("ahead",*p["ahead"])
        put("left",-p["off"][0],p["off"][1]); put("face",-p["track"][0]/2,p["track"][1]/2)
        put("hx",0,0.0005); put("hz",0,0.0005); put("tau",*p["readout"]); put("yaw",0,0.1)
        for n in ("hc","hs"): put(n,0,opts.get("sd_h",0.05))
        for n in ("Ac","As"): put(n,0,opts.get("sd_A",0.004))
        for n in ("Zc","Zs"): put(n,0,opts.get("sd_Z",0.0015))
        for n in ("Uc","Us"): put(n,0,opts.get("sd_U",0.02))
        long=max(self.size)
        put("lf",math.log(p["focal_share"][0]*long),p["focal_share"][1]); put("k1",*p["k1"])
        for n in ("r1","r2","r3"): put(n,0,0.1)
        for n,v in zip(("px","py","pz"),cam["position"]): put(n,v,0.5)
        self.m=m;self.sd=sd
        # start
        bm=np.array([today[i]["mean"] for i in self.frames])
        ref=np.tile(m,(len(self.frames),1))
        ref[:,X]=bm[:,0];ref[:,Y]=bm[:,1];ref[:,TH]=bm[:,2];ref[:,V]=bm[:,3];ref[:,A]=bm[:,4]
        ref[:,S["lf"]]=math.log(cam["focal"]);ref[:,S["k1"]]=cam["k1"]
        if self.haswheel:
            ph=[today[i]["wheel"][0] if today[i]["wheel"] else np.nan for i in self.frames]
            ph=np.array(ph); ok=~np.isnan(ph)
            ph=np.interp(self.ft,self.ft[ok],ph[ok]); ref[:,PHI]=ph-ph[0]
            rate=np.array([today[i]["wheel"][1] if today[i]["wheel"] else np.nan for i in self.frames])
            rate=np.interp(self.ft,self.ft[ok],rate[ok])
            ref[:,W]=np.clip(rate*m[S["R"]]-ref[:,V],-0.2,9)
        self.frames_ref=ref
        if self.haswheel:
            best=(1e30,0)
            for b in np.linspace(0,2*np.pi,180,endpoint=False):
                ref[:,S["beta"]]=b
                h=self.see_wheel(ref,np.arange(len(ref)))
                e=np.array([np.hypot(*(h[k]-self.wh[k][:2])) for k in range(len(ref)) if self.wh[k]])
                c=np.median(e)
                if c<best[0]: best=(c,b)
            ref[:,S["beta"]]=best[1]; self.m[S["beta"]]=best[1]; self.sd[S["beta"]]=1.0
            self.start_misfit=best[0]

    # ---- observation
    def project(self,ref,P):
        # P: n x 3
        out=np.empty((len(P),2))
        # camera parameters are static, but vary by perturbation over rows
        r=ref[:,[S["r1"],S["r2"],S["r3"]]]
        q=P-ref[:,[S["px"],S["py"],S["pz"]]]
        c=q@self.R0.T
        c=self._turn(r,c)
        x=c[:,0]/c[:,2];y=c[:,1]/c[:,2]
        f=np.exp(ref[:,S["lf"]])*(1+ref[:,S["k1"]]*(x*x+y*y))
        return np.stack([self.centre[0]+f*x,self.centre[1]+f*y],1)
    @staticmethod
    def _turn(r,c):
        t=np.linalg.norm(r,axis=1)[:,None]
        t2=np.maximum(t,1e-12)
        k=r/t2
        cr=np.cross(k,c)
        return c*np.cos(t)+cr*np.sin(t)+k*np.sum(k*c,1)[:,None]*(1-np.cos(t))
    def at(self,ref,dt):
        """state moved by dt (n)"""
        v,a,w,b=ref[:,V],ref[:,A],ref[:,W],ref[:,B]
        ds=v*dt+0.5*a*dt*dt; dw=w*dt+0.5*b*dt*dt
        phi=ref[:,PHI]+(ds+dw)/ref[:,S["R"]]
        th=ref[:,TH]+ref[:,KAP]*ds
        c,s=np.cos(phi)-1,np.sin(phi)
        tot=th+ref[:,S["hc"]]*c+ref[:,S["hs"]]*s
        x=ref[:,X]+ds*np.cos(tot);y=ref[:,Y]+ds*np.sin(tot)
        aside=ref[:,S["Ac"]]*c+ref[:,S["As"]]*s
        rise=ref[:,S["Zc"]]*c+ref[:,S["Zs"]]*s
        shown=phi+ref[:,S["Uc"]]*c+ref[:,S["Us"]]*s
        return x,y,tot,aside,rise,shown
    def see_sticker(self,ref,k):
        rows=np.array(self.rows)[k]
        dt=rows*(ref[:,S["tau"]]-self.tau0)
        if self.t0 is not None: dt=np.where(self.ft[k]>self.t0,dt,0)
        x,y,th,aside,rise,_=self.at(ref,dt)
        c,s=np.cos(th),np.sin(th)
        ah,le=ref[:,S["ahead"]],ref[:,S["left"]]+aside
        P=np.stack([x+ah*c-le*s,y+ah*s+le*c,ref[:,S["hst"]]+rise],1)
        return self.project(ref,P)
    def see_wheel(self,ref,k):
        rows=np.array(self.rows)[k]
        wr=np.array([self.wh[i][4] if self.wh[i] else 0.5 for i in k])
        dt=wr*ref[:,S["tau"]]-rows*self.tau0
        if self.t0 is not None: dt=np.where(self.ft[k]+dt>self.t0,dt,0)
        x,y,th,aside,rise,shown=self.at(ref,dt)
        al=shown+ref[:,S["beta"]]
        c,s=np.cos(th),np.sin(th)
        ah=ref[:,S["hx"]]+ref[:,S["rm"]]*np.cos(al)
        up=ref[:,S["R"]]+ref[:,S["hz"]]+rise-ref[:,S["rm"]]*np.sin(al)
        le=ref[:,S["face"]]+aside
        P=np.stack([x+ah*c-le*s,y+ah*s+le*c,up],1)
        return self.project(ref,P)
    def jac(self,fun,ref,cols):
        h0=fun(ref); J=np.zeros(h0.shape+(N,))
        for j in cols:
            e=1e-6*max(1.0,0) if j!=S["py"] else 1e-6
            r=ref.copy(); r[:,j]+=e
            J[...,j]=(fun(r)-h0)/e
        return h0,J
    # ---- the linearised problem about a reference on frame knots, for a set of moments
    def f(self,ref,dt):
        out=ref[:,:9].copy()
        v,a,w,b=ref[:,V],ref[:,A],ref[:,W],ref[:,B]
        R=ref[:,S["R"]]
        ds=v*dt+0.5*a*dt*dt; dw=w*dt+0.5*b*dt*dt
        cx=0;cy=0
        for q,wt in ((0,1/6),(0.5,4/6),(1,1/6)):
            tq=q*dt
            dsq=v*tq+.5*a*tq*tq; dwq=w*tq+.5*b*tq*tq
            ph=ref[:,PHI]+(dsq+dwq)/R
            th=ref[:,TH]+ref[:,KAP]*dsq+ref[:,S["yaw"]]*dwq+ref[:,S["hc"]]*(np.cos(ph)-1)+ref[:,S["hs"]]*np.sin(ph)
            sp=(v+a*tq)*dt*wt
            cx=cx+sp*np.cos(th); cy=cy+sp*np.sin(th)
        out[:,X]+=cx;out[:,Y]+=cy
        out[:,TH]+=ref[:,KAP]*ds+ref[:,S["yaw"]]*dw
        out[:,V]+=a*dt;out[:,PHI]+=(ds+dw)/R;out[:,W]+=b*dt
        return out
    def observe(self,ref):
        """residuals and jacobians at the frames, about the frame reference"""
        k=np.arange(len(ref))
        stat=[S[n] for n in ("R","tau","hst","ahead","left","hc","hs","Ac","As","Zc","Zs","lf","k1","r1","r2","r3","px","py","pz")]
        h,J=self.jac(lambda r:self.see_sticker(r,k),ref,list(range(9))+stat)
        self.rs=np.array([[s[0],s[1]] if s else [np.nan]*2 for s in self.st])-h; self.Js=J
        if self.haswheel:
            stat=[S[n] for n in NAMES if n not in("hst","ahead","left","yaw")]
            h,J=self.jac(lambda r:self.see_wheel(r,k),ref,list(range(9))+stat)
            self.rw=np.array([[s[0],s[1]] if s else [np.nan]*2 for s in self.wh])-h; self.Jw=J
        # floor marks
        d=self.d; rr=[];JJ=[];CC=[]
        for mark,patch in enumerate(d["corr"]):
            if patch is None: continue
            u,v,sd=d["floor_px"][patch]; fx,fy=d["floor_m"][mark]
            row=ref[:1].copy()
            fun=lambda r:self.project(r,np.array([[fx,fy,0.0]]))
            h,J=self.jac(fun,row,[S[n] for n in("lf","k1","r1","r2","r3","px","py","pz")])
            G=np.zeros((2,2))
            for j,e in enumerate(((1e-5,0),(0,1e-5))):
                G[:,j]=(self.project(row,np.array([[fx+e[0],fy+e[1],0.0]]))[0]-h[0])/1e-5
            rr.append(np.array([u,v])-h[0]);JJ.append(J[0]);CC.append(np.eye(2)*sd**2+G@G.T*d["mark_sd_m"]**2)
        self.floor=(rr,JJ,CC)
    def knots(self,mo):
        """times with marks; mo: dict t0, cps (list), tg (or None), te"""
        ev=[(t,0,k) for k,t in enumerate(self.ft)]
        if mo["t0"] is not None: ev.append((mo["t0"],1,"rel"))
        for t in mo["cps"]: ev.append((t,1,"cp"))
        if mo["tg"] is not None: ev.append((mo["tg"],2,"grip"))
        ev.sort(key=lambda e:(e[0],e[1]))
        return ev
    def setup(self,ref,mo,slips):
        ev=self.knots(mo); n=len(ev)
        t=np.array([e[0] for e in ev])
        t0=mo["t0"]
        kn=np.empty((n,N))
        for j in range(N):
            kn[:,j]=ref[0,j] if j>=ND else np.interp(t,self.ft,ref[:,j])
        if not slips: kn[:,W]=0;kn[:,B]=0
        elif mo["tg"] is not None:
            after=np.array([e[0]>mo["tg"] or (e[0]==mo["tg"] and e[1]==2) for e in ev])
            kn[after,W]=0;kn[after,B]=0
        moving=np.ones(n,bool) if t0 is None else t>t0
        if t0 is not None:
            rest=(t<t0)
            kn[rest,V]=0;kn[rest,A]=0
            kn[rest,W]=0;kn[rest,B]=0
        dt=np.diff(t)
        mv=np.ones(n-1) if t0 is None else (t[:-1]>=t0).astype(float)
        d=dt*mv
        cols=list(range(9))+[S[x] for x in("R","yaw","hc","hs")]
        f0,F=self.jac(lambda r:self.f(r,d),kn[:-1],cols)
        return dict(ev=ev,t=t,kn=kn,d=d,mv=mv,F=F[:, :9, :],gap=f0-kn[1:,:9])
    def filter(self,su,hy,mo,slips,smooth=False):
        ev,t,kn,d,mv,F9,gap=(su[k] for k in("ev","t","kn","d","mv","F","gap"))
        n=len(ev)
        qa,qc,qw,cs,cw,rho=hy
        x=self.m-kn[0]; 
        P=np.diag(self.sd**2)
        x[:ND]=0; x[TH]=-kn[0,TH]; x[KAP]=-kn[0,KAP]
        P[:ND,:ND]=0
        P[X,X]=P[Y,Y]=1.0;P[TH,TH]=0.25**2;P[KAP,KAP]=0.4**2
        if mo["t0"] is None:
            P[V,V]=9;P[A,A]=100; P[W,W]=1 if slips else 0;P[B,B]=25 if slips else 0;
        cl=np.median([s[2] for s in self.st if s])
        for j in range(4): P[9+j,9+j]=(cs if j<2 else cw)*cl
        def upd(x,P,r,H,Rv):
            HP=H@P
            Sm=HP@H.T+Rv
            Si=np.linalg.inv(Sm)
            K=HP.T@Si
            v=r-H@x
            ll=-0.5*(v@Si@v)-0.5*np.log(np.linalg.det(Sm))
            P=P-K@HP
            return x+K@v,0.5*(P+P.T),K,Si,v,ll
        ll=0
        for r,H,C in zip(*self.floor):
            x,P,_,_,_,l=upd(x,P,r,H,C); ll+=l
        rec=[]
        te=mo.get("te")
        cosx=np.cos(kn[:,TH]);sinx=np.sin(kn[:,TH])
        lastframe=None
        R=kn[0,S["R"]]
        tiny=1e-5
        for i in range(n):
            step=None
            # jump at this knot
            kind=ev[i][1]
            Jz=None
            e=ev[i]
            xp,Pp=x,P
            H=None
            if kind==0:
                k=e[2]
                rows=[];rr=[]
                if self.counts[k]:
                    if self.st[k]:
                        Hs=self.Js[k].copy();Hs[0,9]=1;Hs[1,10]=1
                        rows.append(Hs);rr.append(self.rs[k])
                    if self.haswheel and self.wh[k]:
                        Hs=self.Jw[k].copy();Hs[0,11]=1;Hs[1,12]=1
                        rows.append(Hs);rr.append(self.rw[k])
                if rows:
                    H=np.concatenate(rows);r=np.concatenate(rr)
                    x,P,K,Si,v,l=upd(xp,Pp,r,H,np.eye(len(r))*tiny); ll+=l
            zero=False
            jump=None
            if kind==1:
                if e[2]=="rel": ja,jb=START_A**2,START_B**2
                else: ja,jb=JUMP_A**2,JUMP_B**2
                if not slips or (mo["tg"] is not None and t[i]>=mo["tg"]): jb=0
                jump=(ja,jb)
            if kind==2:
                zero=True; jump=(JUMP_A**2,0)
            if smooth: rec.append(dict(xp=xp,Pp=Pp,H=H,K=K if H is not None else None,Si=Si if H is not None else None,v=v if H is not None else None))
            # transition (jump first, then move)
            if jump or zero:
                J=np.eye(N)
                off=np.zeros(N)
                if zero:
                    J[W]=0;J[B]=0
                x=J@x; P=J@P@J.T
                P=P.copy()
                P[A,A]+=jump[0];P[B,B]+=jump[1]
            if i+1<n:
                Fd=np.zeros((ND,N)); Fd[:9]=F9[i]
                toframe=ev[i+1][1]==0
                rh=rho if toframe else 1.0
                for j in range(9,13): Fd[j,j]=rh
                T=Fd@P
                Pd=T@Fd.T
                P2=P.copy()
                P2[:ND,:]=T;P2[:,:ND]=T.T;P2[:ND,:ND]=Pd
                x=np.concatenate([Fd@x,x[ND:]]); x[:9]+=gap[i]
                if mv[i]>0 and d[i]>0:
                    D=d[i]
                    q=qc if te is not None and t[i]>=te else qa
                    g=np.zeros((9,3))
                    g[X,0]=cosx[i];g[Y,0]=sinx[i];g[PHI,0]=1/R;g[V,1]=1;g[A,2]=1
                    B3=np.array([[D**5/20,D**4/8,D**3/6],[D**4/8,D**3/3,D*D/2],[D**3/6,D*D/2,D]])
                    Q=q*(g@B3@g.T)
                    if slips and not(mo["tg"] is not None and t[i]>=mo["tg"]):
                        g=np.zeros((9,3)); g[PHI,0]=1/R;g[W,1]=1;g[B,2]=1
                        Q+=qw*(g@B3@g.T)
                    P2[:9,:9]+=Q
                    P2[KAP,KAP]+=WANDER**2*max(kn[i,V]*D,0)
                if toframe:
                    kf=ev[i+1][2]
                    sv=self.st[kf]; wv=self.wh[kf]
                    a=(1-rho*rho)
                    vs=(sv[2] if sv else cl)*cs*a; vw=(wv[2] if wv else cl)*cw*a
                    P2[9,9]+=vs;P2[10,10]+=vs;P2[11,11]+=vw;P2[12,12]+=vw
                P=P2
                if smooth:
                    Ff=np.eye(N);Ff[:ND]=Fd
                    if zero: Ff=Ff@J
                    rec[-1]["F"]=Ff
        if not smooth: return ll
        r=np.zeros(N);Nn=np.zeros((N,N))
        xs=[None]*n;Vs=[None]*n
        for i in range(n-1,-1,-1):
            c=rec[i]
            if i<n-1:
                r=c["F"].T@r; Nn=c["F"].T@Nn@c["F"]
            if c["H"] is not None:
                L=np.eye(N)-c["K"]@c["H"]
                HS=c["H"].T@c["Si"]
                r=HS@c["v"]+L.T@r; Nn=HS@c["H"]+L.T@Nn@L
            xs[i]=c["xp"]+c["Pp"]@r
            if ev[i][1]==0: Vs[i]=c["Pp"]-c["Pp"]@Nn@c["Pp"]
        return ll,np.array(xs),Vs
    def smooth_pass(self,ref,hy,mo,slips,cov=False):
        self.observe(ref)
        su=self.setup(ref,mo,slips)
        ll,xs,Vs=self.filter(su,hy,mo,slips,True)
        new=su["kn"]+xs
        fr=[i for i,e in enumerate(su["ev"]) if e[1]==0]
        out=new[fr]
        out[:,ND:]=out[0,ND:]
        return ll,out,([Vs[i] for i in fr] if cov else None)
    # ---- outputs
    def outputs(self,ref):
        dt=np.array(self.rows)*(ref[:,S["tau"]]-self.tau0)
        if self.t0 is not None: dt=np.where(self.ft>self.t0,dt,0)
        x,y,th,aside,rise,shown=self.at(ref,dt)
        v=ref[:,V]+ref[:,A]*dt; w=ref[:,W]+ref[:,B]*dt
        rim=v+w
        slip=w/np.where(np.abs(rim)<1e-3,1e-3,rim)
        return np.stack([v,slip,y+aside*np.cos(th)],1)
    def estimates(self,ref,Vs):
        cols=[j for j in range(N) if not 9<=j<13]
        h,J=self.jac(lambda r:self.outputs(r),ref,cols)
        var=np.array([np.einsum("ij,jk,ik->i",J[k],Vs[k],J[k]) for k in range(len(ref))])
        return h,np.maximum(var,0)
