/** The one style sheet of the HTML report. */
import { darkPalette, lightPalette, paletteCss } from '../palette.js';
import { plotStyle } from '../plots/plotSheet.js';

const colours = `
:root{color-scheme:light dark;${paletteCss(lightPalette)}}
@media (prefers-color-scheme:dark){:root{${paletteCss(darkPalette)}}}
@media print{:root{color-scheme:light;${paletteCss({ ...lightPalette, paper: '#ffffff' })}}}`;

const text = `
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);font:400 1.0625rem/1.55 system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans",sans-serif;font-variant-numeric:tabular-nums;overflow-wrap:break-word}
.wrap{max-width:66rem;margin:0 auto;padding:0 1rem}
h1,h2,h3{line-height:1.2;letter-spacing:-.012em;margin:0;text-wrap:balance}
h1{font-size:clamp(1.7rem,5.5vw,2.6rem);font-weight:650}
h2{font-size:1.45rem;font-weight:650}
h3{font-size:1.06rem;font-weight:650}
h3{margin-top:1.8rem}
p{margin:.5rem 0 0;max-width:44rem}
a{color:var(--accent);text-underline-offset:.18em;text-decoration-thickness:1px}
a:focus-visible,summary:focus-visible,.scroll:focus-visible{outline:3px solid var(--accent);outline-offset:3px;border-radius:4px}
.muted{color:var(--muted)}
.small{font-size:.9rem}
.keep{white-space:nowrap}
code,pre{font-family:ui-monospace,SFMono-Regular,Menlo,Consolas,"Liberation Mono",monospace;font-size:.85rem}
code{overflow-wrap:anywhere}
pre{white-space:pre-wrap;overflow-wrap:anywhere;background:var(--well);padding:1rem;border-radius:10px;margin:.75rem 0 0}`;

const layout = `
header{padding:2.2rem 0 0}
.eyebrow{color:var(--muted);font-size:.9rem;margin:0 0 .35rem;overflow-wrap:anywhere}
.chips{display:flex;flex-wrap:wrap;gap:.4rem;margin:.9rem 0 0;padding:0;list-style:none;font-size:.9rem}
.chips li{border:1px solid var(--line);background:var(--card);border-radius:99px;padding:.15rem .75rem;overflow-wrap:anywhere}
.chips .fit{color:var(--ok)}.chips .care{color:var(--model)}.chips .unfit{color:var(--warn)}
.chips .fit,.chips .care,.chips .unfit{border-color:currentColor;font-weight:600}
nav{margin:1.1rem 0 0;font-size:.92rem}
nav a{display:inline-block;padding:.2rem 1.1rem .2rem 0}
section{margin:3rem 0 0;padding:1.6rem 0 0;border-top:1px solid var(--line)}
.answers{border-top:0;padding:0;margin:1.6rem 0 0;display:grid;gap:1rem;grid-template-columns:repeat(auto-fit,minmax(min(100%,26rem),1fr))}
.answer{background:var(--card);border:1px solid var(--line);border-radius:18px;padding:1.4rem 1.5rem 1.5rem;min-width:0}
.answer h2{font-size:1.06rem;overflow-wrap:anywhere}
.answer h2 span{color:var(--muted);font-weight:400}
.big{margin:.9rem 0 0;line-height:1;color:var(--accent)}
.big b{font-size:clamp(3.4rem,15vw,5.6rem);font-weight:650;letter-spacing:-.045em}
.big .unit{font-size:1.5rem;font-weight:500;margin-left:.2em}
.big-name{margin:.55rem 0 0;font-weight:600}
.big-name span{font-weight:400;color:var(--muted)}
.verdict{margin:1rem 0 0;font-size:1.2rem;line-height:1.42;text-wrap:pretty}
.figures{margin:1.1rem 0 0;display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,13rem),1fr));gap:.9rem 1.4rem}
.figures>div{border-top:1px solid var(--line);padding-top:.5rem;min-width:0}
.figures dt{font-size:.9rem;color:var(--muted)}
.figures dd{margin:0}
.figures .value{font-size:1.25rem;font-weight:600}
.figures .note{font-size:.85rem;color:var(--muted);line-height:1.4}
.plots{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,21.5rem),1fr));gap:1rem;margin:1.2rem 0 0}
figure{margin:0;min-width:0}
.plots figure,.sheet{background:var(--card);border:1px solid var(--line);border-radius:14px;padding:1rem 1.1rem}
figcaption{font-weight:600;margin:0 0 .6rem}
figcaption span{display:block;font-weight:400;font-size:.88rem;color:var(--muted);line-height:1.4}
.plots .plot,.sheet .plot{display:block;width:100%;height:auto;max-width:34rem}
.two{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,21.5rem),1fr));gap:1.2rem 2rem;align-items:start;margin:1.2rem 0 0}
.two img{display:block;width:100%;height:auto;border-radius:12px;background:var(--well)}
.worries{margin:1rem 0 0;padding:0;list-style:none;display:grid;gap:.6rem}
.worries li{border-left:4px solid var(--line);padding:.1rem 0 .1rem .9rem;max-width:48rem}
.worries b{display:block;font-size:.85rem;font-weight:600;color:var(--muted)}
.worries .care{border-color:var(--model)}.worries .care b{color:var(--model)}
.worries .unfit{border-color:var(--warn)}.worries .unfit b{color:var(--warn)}
footer{margin:3rem 0 0;padding:1.2rem 0 3rem;border-top:1px solid var(--line);color:var(--muted);font-size:.9rem}`;

const tables = `
.scroll{overflow-x:auto;margin:1rem 0 0;max-width:100%}
table{border-collapse:collapse;font-size:.95rem;width:100%}
caption{text-align:left;color:var(--muted);font-size:.9rem;padding:0 0 .5rem}
th,td{padding:.42rem .9rem .42rem 0;text-align:left;vertical-align:top;border-bottom:1px solid var(--line)}
thead th{font-size:.85rem;font-weight:600;color:var(--muted);border-bottom:1.5px solid var(--muted);vertical-align:bottom}
tbody th{font-weight:600}
.number{text-align:right;white-space:nowrap}
.number+td:not(.number),.number+th:not(.number){padding-left:.9rem}
thead .number{white-space:normal}
.narrow{max-width:34rem}
.name{max-width:11rem;overflow-wrap:anywhere}
.status{white-space:nowrap}
.status.measured{color:var(--ok)}.status.no-response{color:var(--warn)}.status.ambiguous{color:var(--model)}.status.excluded{color:var(--muted)}
.flag{display:inline-block;border:1px solid var(--line);border-radius:5px;padding:0 .4rem;margin:0 .25rem .15rem 0;font-size:.85rem;background:var(--card);overflow-wrap:anywhere}
.grouped tr:not(:last-child)>td:not([rowspan]){border-bottom-color:transparent}
.grouped tr:not(:first-child)>td,.grouped tr:not(:last-child)>td:not([rowspan]){padding-top:.3rem;padding-bottom:.2rem}
.flags{min-width:8rem}
.words{min-width:9rem;max-width:24rem;overflow-wrap:anywhere}
.facts{margin:1rem 0 0;display:grid;grid-template-columns:minmax(7rem,auto) minmax(0,1fr);gap:.4rem 1.2rem;font-size:.95rem}
.facts dt{color:var(--muted)}
.facts dd{margin:0;min-width:0;overflow-wrap:anywhere}
.two .facts{margin-top:0}
details{border-bottom:1px solid var(--line)}
summary{cursor:pointer;padding:.65rem 0;font-weight:600;overflow-wrap:anywhere}
summary span{font-weight:400}
details[open]{padding-bottom:1.1rem}
.press-sheet{background:var(--card);border:1px solid var(--line);border-radius:14px;padding:1rem}
.press-sheet .scroll{margin:0}
.press-sheet .plot{display:block;max-width:none}
.press-list{margin:1rem 0 0;border-top:1px solid var(--line)}`;

const phone = `
@media screen and (max-width:30rem){
.plots figure,.sheet{padding:.8rem .6rem}
.plots .plot,.sheet .plot{font-size:13.5px}
.plots .plot .tick,.plots .plot .axis-name,.sheet .plot .tick{font-size:12.5px}
.answer{padding:1.2rem 1.1rem}
table{font-size:.88rem}
th,td{padding-right:.6rem}
.number+td:not(.number),.number+th:not(.number){padding-left:.4rem}
}`;

const print = `
@media print{
@page{margin:14mm}
html{font-size:9.5pt}
body{font-size:1rem}
table{font-size:.85rem}
th,td{padding:.3rem .6rem .3rem 0}
.words,.flags{min-width:0}
nav{display:none}
section{margin-top:1.6rem;padding-top:1rem}
h2,h3,figcaption,summary{break-after:avoid}
figure,.answer,tr,.press-sheet,.worries li{break-inside:avoid}
.big b{font-size:44pt}
.scroll{overflow:visible}
.press-sheet .plot{max-width:100%;height:auto}
.plots{grid-template-columns:1fr 1fr}
details::details-content{display:block;content-visibility:visible}
summary{list-style:none}
a{color:inherit;text-decoration:none}
*{print-color-adjust:exact;-webkit-print-color-adjust:exact}
}`;

/** Style text; it stands in the page unchanged, since the content security policy admits it by its hash. */
export const pageStyle: string = [colours, text, layout, tables, plotStyle, phone, print].join('\n').trim();
