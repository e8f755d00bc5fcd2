#include "report/page.h"

namespace scale::report {

// Headings hang in a margin of their own, as in a bound note book; ink on paper, one hue for what was measured. The
// hues are Okabe's and Ito's, text is never in them.
const char* style_sheet() {
  return R"css(
:root{--ink:#1c1c1c;--soft:#545454;--line:#8a8a8a;--hair:#dcdcdc;--wash:#f4f4f2;--blue:#0072b2;--red:#d55e00;--green:#009e73;--gold:#e69f00}
*{box-sizing:border-box}
html{font:15px/1.45 system-ui,-apple-system,"Segoe UI","DejaVu Sans",sans-serif;color:var(--ink);background:#fff;-webkit-text-size-adjust:100%}
body{margin:0 auto;padding:1rem 1.25rem 2rem;max-width:66rem;overflow-wrap:break-word}
bdi,.hash{overflow-wrap:anywhere}
a{color:var(--ink);text-underline-offset:.15em}
nav{margin:0 0 .8rem;font-size:.87rem}
header .kind{margin:.5rem 0 0;color:var(--soft);font-size:.87rem}
h1{margin:0;font-size:1.75rem;line-height:1.2;font-weight:600}
header .place{margin:.15rem 0 1.2rem;color:var(--soft)}
svg.scale{display:block;width:100%;height:16px}
svg.scale path{stroke:var(--ink);stroke-width:1;fill:none;vector-effect:non-scaling-stroke}
section{display:grid;grid-template-columns:9.5rem minmax(0,1fr);gap:.2rem 1.5rem;padding:.9rem 0 1.1rem;border-top:1px solid var(--hair)}
section h2{margin:0;font-size:.95rem;font-weight:600;line-height:1.35}
section .body>:first-child{margin-top:0}
section .body>:last-child{margin-bottom:0}
p{margin:.4rem 0;max-width:46rem}
ul{margin:.4rem 0;padding-left:1.1rem;max-width:46rem}
.factor{font-size:1.6rem;line-height:1.25;font-variant-numeric:tabular-nums;margin:0}
.factor+p{margin-top:.1rem}
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
th{text-align:left;font-weight:400;color:var(--soft);vertical-align:top}
td{vertical-align:top}
.facts{margin:.4rem 0;columns:2 23.5rem;column-gap:2rem}
.facts div{display:grid;grid-template-columns:9.2rem minmax(0,1fr);column-gap:.8rem;padding:.1rem 0;break-inside:avoid}
.facts dt{color:var(--soft)}
.facts dd{margin:0}
.grid{width:100%;margin:.3rem 0;font-size:.9rem}
.grid th{border-bottom:1px solid var(--line);padding:.2rem .8rem .25rem 0}
.grid td{border-bottom:1px solid var(--hair);padding:.25rem .8rem .25rem 0}
.grid th:last-child,.grid td:last-child{padding-right:0}
.grid .n{text-align:right}
.grid td.n{white-space:nowrap}
.grid td:first-child{min-width:9rem}
.grid .hash{white-space:nowrap}
.wide{overflow-x:auto;max-width:100%}
.wide:focus-visible,a:focus-visible{outline:2px solid var(--blue);outline-offset:2px}
.none{color:var(--soft);font-style:italic}
.hash{font-family:ui-monospace,"DejaVu Sans Mono",monospace;font-size:.82em}
.q{white-space:nowrap}
.small{font-size:.87rem;color:var(--soft)}
figure{margin:.6rem 0 1rem}
figcaption{font-size:.87rem;color:var(--soft);max-width:46rem;margin-top:.2rem}
img{display:block;max-width:100%;height:auto;border:1px solid var(--hair)}
.sheet{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(18rem,100%),1fr));gap:.4rem 1rem}
.grid ul{margin:0}
.evidence{min-width:17rem}
.grid td p{margin:0}
.gap{border:1px dashed var(--line);background:var(--wash);padding:1.4rem 1rem;margin:0}
.legend span{display:inline-block;margin-right:1rem;white-space:nowrap}
.wide>svg{display:block;width:100%;height:auto}
.wide>svg.narrow{display:none}
svg.chart{font:12px system-ui,"DejaVu Sans",sans-serif}
svg text{fill:var(--ink);stroke:none}
.axis path{fill:none;stroke:var(--ink)}
.axis path.hair,path.hair{stroke:var(--hair);fill:none}
.zero{stroke:var(--line);fill:none}
.bar{stroke:var(--blue);fill:none;stroke-opacity:.55}
.measured{fill:var(--blue)}
.former{fill:#fff;stroke:var(--blue);stroke-width:1.4}
.left-out{fill:none;stroke:var(--red);stroke-width:1.8}
.certified{fill:#fff;stroke:var(--ink);stroke-width:1.1}
path.line{fill:none;stroke-dasharray:5 3}
.trace{fill:none;stroke:var(--ink);stroke-width:1.1;stroke-linejoin:round}
.found{fill:none;stroke:var(--blue);stroke-width:1.6;stroke-dasharray:7 3}
.class{fill:var(--blue);fill-opacity:.3;stroke:var(--ink);stroke-width:.8}
.above{fill:var(--gold);stroke:var(--ink);stroke-width:.8}
.below{fill:var(--blue)}
.unclear{fill:#fff;stroke:var(--line)}
svg.key{width:.85em;height:.85em;vertical-align:-.06em}
svg.key.long{width:1.9em}
svg.share{width:5rem;height:.65rem;vertical-align:middle}
span.share{display:inline-block;min-width:3.6rem;text-align:right}
.share rect{fill:var(--blue)}
.share path{stroke:var(--hair);fill:none;vector-effect:non-scaling-stroke}
svg.spark{width:150px;height:30px;display:block}
.sign{stroke-width:1.6}
.good{fill:var(--green)}
.soon{fill:var(--gold);stroke:var(--ink);stroke-width:.8}
.bad{fill:var(--red)}
.open{fill:#fff;stroke:var(--ink)}
.crossed{fill:none;stroke:var(--red);stroke-width:2.6}
.sign-off{display:grid;grid-template-columns:repeat(auto-fit,minmax(14rem,1fr));gap:2.6rem 2rem;padding-top:3.2rem}
.sign-off p{border-top:1px solid var(--ink);padding-top:.2rem;margin:0;font-size:.87rem}
footer{border-top:1px solid var(--hair);color:var(--soft);font-size:.87rem;padding-top:.4rem}
.wide{background:linear-gradient(90deg,#fff 40%,#fff0) 0 0/2rem 100%,linear-gradient(270deg,#fff 40%,#fff0) 100% 0/2rem 100%,linear-gradient(90deg,#0003,#0000) 0 0/.7rem 100%,linear-gradient(270deg,#0003,#0000) 100% 0/.7rem 100%;background-repeat:no-repeat;background-attachment:local,local,scroll,scroll}
@media (max-width:1000px){section{grid-template-columns:minmax(0,1fr)}}
@media (max-width:860px){svg.share{width:1.5rem}.grid th,.grid td{padding-right:.6rem}}
@media screen and (max-width:700px){.wide>svg.broad{display:none}.wide>svg.narrow{display:block;max-width:28rem}
h1{font-size:1.4rem}.factor{font-size:1.3rem}.facts .q{white-space:normal}
.stack thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}.stack,.stack tbody,.stack tr{display:block}
.stack tr{border-bottom:1px solid var(--hair);padding:.3rem 0}.grid.stack td,.grid.stack td.n{display:flow-root;border:0;padding:.1rem 0 .1rem 7.4rem;text-align:left;white-space:normal}
.grid.stack td:first-child{padding-left:0}.stack td[data-head]::before{content:attr(data-head);float:left;width:7rem;margin-left:-7.4rem;color:var(--soft)}
.grid.stack td:empty{display:none}.evidence{min-width:0}}
@media print{html{font-size:9.6pt}body{max-width:none;padding:0}nav{display:none}a{text-decoration:none}
section{display:block;padding:.6rem 0 .7rem 33mm;min-height:1.2cm}section h2{width:27mm;height:0;margin-left:-33mm}
section.full{padding-left:0;min-height:0}section.full h2{width:auto;height:auto;margin:0}section h2+.body{break-before:avoid}
.wide{overflow:visible;background:none}figure,tr,.keep{break-inside:avoid}h2{break-after:avoid}thead{display:table-header-group}
img{max-height:100mm;width:auto;max-width:100%}.facts{columns:2;column-gap:4mm;font-size:.94em}.facts div{grid-template-columns:24mm minmax(0,1fr);column-gap:2mm}
.grid{font-size:.85em}.grid th,.grid td{padding-right:2mm}.grid td:first-child{min-width:30mm}.evidence{min-width:0}svg.share{width:12mm}p{break-inside:avoid}ul{orphans:3;widows:3}
.lead{break-after:avoid}svg.chart{font-size:14px}}
)css";
}

}  // namespace scale::report
