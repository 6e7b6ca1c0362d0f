//! The page's own look: dark on light paper, figures in even columns, shapes before colours.

pub const CSS: &str = "
:root{color-scheme:light dark;--ink:#1d2321;--paper:#fbfaf6;--rule:#8d958f;--soft:#e6e6de;--ours:#0b5c57;--theirs:#8a3b12}
@media (prefers-color-scheme:dark){:root{--ink:#eceee9;--paper:#171b1a;--rule:#7f8883;--soft:#2b3130;--ours:#6fd0c7;--theirs:#f0a87c}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1.05rem/1.5 Georgia,'Times New Roman',serif}
main{max-width:62rem;margin:0 auto;padding:1.2rem}
h1{font-size:1.7rem;line-height:1.2;margin:.4em 0}
h2{font-size:1.25rem;margin:2em 0 .4em;border-top:3px solid var(--ink);padding-top:.5em}
h3{font-size:1.05rem;margin:1.2em 0 .3em}
.lead{font-size:1.15rem}
.small{font-size:.9rem}
.scroll{overflow-x:auto}
table{border-collapse:collapse;font-size:.92rem;font-variant-numeric:tabular-nums}
caption{text-align:left;padding:.3em 0}
th,td{text-align:right;padding:.3em .6em;border-bottom:1px solid var(--soft);white-space:nowrap}
th:first-child,td:first-child{text-align:left;white-space:normal}
tbody th:first-child{min-width:12rem;font-weight:normal}
thead th{border-bottom:2px solid var(--rule)}
figure{margin:1em 0}
figcaption{font-size:.92rem}
svg{width:100%;height:auto;max-width:46rem;display:block}
svg text{fill:var(--ink);font:13px Georgia,serif}
.axis{stroke:var(--rule);stroke-width:1}
.bias{stroke:var(--ink);stroke-width:2}
.limit{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:7 4}
.ci{stroke:var(--ink);stroke-width:1;fill:none}
.mark{fill:none;stroke:var(--ink);stroke-width:1.6}
.band{fill:var(--ours);opacity:.22}
.ours{fill:none;stroke:var(--ours);stroke-width:2.2}
.theirs{fill:none;stroke:var(--theirs);stroke-width:1.8;stroke-dasharray:2 4;stroke-linecap:round}
.event{stroke:var(--rule);stroke-width:1;stroke-dasharray:3 3}
@media print{body{font-size:10pt}main{max-width:none}}
";
