"""How the report looks: on a screen, on a phone, on paper."""

STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.5 Georgia, "Times New Roman", serif; color: #22303c; background: #f7f5f0;
  margin: 0; }
main { max-width: 62rem; margin: 0 auto; padding: 1rem 1.2rem 4rem; }
h1 { font-size: 1.9rem; margin: 1.5rem 0 .2rem; }
h2 { font-size: 1.3rem; margin: 2.6rem 0 .6rem; border-top: 3px solid #22303c;
  padding-top: .5rem; }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .5rem; }
nav ul { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .3rem 1.2rem; }
a { color: #1d5273; }
figure { margin: 0; background: #fff; padding: .8rem; border: 1px solid #dfe6ea;
  break-inside: avoid; }
figure svg { width: 100%; height: auto; display: block; }
figure svg:not([viewBox^="0 0 480"]) { max-height: 22rem; }
figure > strong { display: block; margin-bottom: .3rem; }
figcaption { font-size: .95rem; margin-top: .4rem; overflow-wrap: anywhere; }
.pairs { display: grid; gap: 1rem; align-items: start; margin: 1rem 0;
  grid-template-columns: repeat(auto-fill, minmax(min(100%, 25rem), 1fr)); }
.pairs.pages { grid-template-columns: repeat(auto-fill, minmax(min(100%, 17rem), 1fr)); }
table { border-collapse: collapse; width: 100%; background: #fff; font-size: .95rem; }
caption { text-align: left; font-weight: bold; padding: .3rem .6rem; }
th, td { text-align: left; padding: .3rem .6rem; border-bottom: 1px solid #dfe6ea;
  vertical-align: top; }
tbody th { font-weight: normal; }
td.number, th.number { text-align: right; }
td.number .note { white-space: nowrap; }
.minis { display: flex; flex-wrap: wrap; gap: 1.2rem 1rem; padding: 0; margin: .6rem 0 1.2rem;
  list-style: none; }
.minis li { width: 8.2rem; font-size: .85rem; line-height: 1.35; overflow-wrap: anywhere;
  break-inside: avoid; }
.minis svg { height: 9.4rem; width: auto; max-width: 8.2rem; display: block;
  margin-bottom: .2rem; }
.note { color: #4a5560; font-size: .9rem; }
.small { color: #8a3d0c; }
section:target { outline: 3px solid #b3642c; outline-offset: 6px; }
.scroll { overflow-x: auto; }
@media (max-width: 40rem) {
  main { padding: .5rem .7rem 3rem; }
  .minis { gap: 1rem .6rem; }
  .minis li { width: calc(33.3% - .45rem); }
  .minis svg { width: 100%; height: auto; max-height: 10rem; }
  .pairs.pages { grid-template-columns: 1fr 1fr; gap: .6rem; }
  .pairs.pages figure { padding: .5rem; }
  th, td { padding: .3rem .35rem; }
}
@media print {
  @page { margin: 15mm; }
  body { background: #fff; font-size: 10.5pt; }
  main { max-width: none; padding: 0; }
  nav { display: none; }
  h2, h3 { break-after: avoid; }
  tr { break-inside: avoid; }
  .scroll { overflow: visible; }
  .pairs { grid-template-columns: 1fr 1fr; }
  .pairs.pages { grid-template-columns: repeat(4, 1fr); gap: .5rem; }
  .pairs.pages svg { max-height: 10rem; }
  .minis svg { height: 7.5rem; }
  .minis li { width: 6.6rem; }
  .minis a, nav a { color: inherit; text-decoration: none; }
}
"""
