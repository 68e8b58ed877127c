
#[path = "../tests/support/walls.rs"]
#[allow(dead_code)]
mod walls;
use walls::*;
use wythe_bands::Band;
use wythe_partition::*;
fn line(name:&str,p:&Prediction){ print!("{name:34}"); for b in Band::range(Band::HZ_50,Band::HZ_1000){print!(" {:5.1}",p.reduction.get(b).unwrap().0);} println!("  f0 {:?}",p.resonances.iter().map(|f|f.0.round()).collect::<Vec<_>>());}
fn main(){
 let g=|n|board("gypsum board",15.9,n);
 let ts=||Some(frame(FrameKind::SeparateTimberStuds,600.0));
 for (d,fill,fr) in [(200.0,100.0,None),(200.0,180.0,ts())]{
  let old=predicted(vec![g(2),cavity(d,fill,fr.clone()),g(2)]);
  line("two leaves",&old);
  for gap in [13.0,25.0,50.0]{
   let c=predicted(vec![g(2),cavity(d,fill,fr.clone()),g(2),cavity(gap,0.0,None),g(1)]);
   line(&format!("third at {gap}"),&c);
   let mut f=frame(FrameKind::TimberStuds,600.0); f.mount=None;
   let c=predicted(vec![g(2),cavity(d,fill,fr.clone()),g(2),cavity(gap,0.0,Some(f)),g(1)]);
   line(&format!("third at {gap} on battens"),&c);
  }
  line("outside 3+2",&predicted(vec![g(2),cavity(d,fill,fr.clone()),g(3)]));
 }
 for (m,t) in [("brick",225.0),("dense block",100.0),("concrete",150.0)]{
 line(m,&predicted(vec![board(m,t,1)]).without(PathKind::Perimeter));
 for (gap,fill) in [(13.0,0.0),(25.0,0.0),(25.0,25.0),(50.0,0.0),(50.0,50.0),(100.0,75.0)]{
   line(&format!("lined {gap}/{fill}"),&predicted(vec![board(m,t,1),cavity(gap,fill,None),board("gypsum board",12.5,1)]).without(PathKind::Perimeter));
 }}
}
