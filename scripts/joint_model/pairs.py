from score import *
import sys
p=load(sys.argv[1],sys.argv[2])
for c,u,n in((0,1e3,"speed"),(1,100,"slip"),(2,1e3,"dev")):
    a=[];b=[];w=[];hw=[]
    for d,r in p:
        q=frames(d,r); e=(q["d"]-q["t"])[:,c];j=(q["j"]-q["t"])[:,c]; ok=np.isfinite(e)&np.isfinite(j)
        if not ok.any(): continue
        a.append(u*np.sqrt(np.mean(e[ok]**2)));b.append(u*np.sqrt(np.mean(j[ok]**2)))
        w.append((np.mean(np.abs(e[ok])<=1.96*q["ds"][ok,c]),np.mean(np.abs(j[ok])<=1.96*q["js"][ok,c])))
    a=np.array(a);b=np.array(b);w=np.array(w)
    print(n,"runs",len(a),"median rms today %.2f joint %.2f; joint better in %d; runs with <85 %% held today %d joint %d; worst3 today %s joint %s"%(np.median(a),np.median(b),(b<a).sum(),(w[:,0]<.85).sum(),(w[:,1]<.85).sum(),np.sort(w[:,0])[:3].round(2),np.sort(w[:,1])[:3].round(2)))
