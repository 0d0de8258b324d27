"""How the sheet looks on paper: black on white, thick lines, nothing said by colour alone."""

from __future__ import annotations

STYLE = """
@page { margin: 7mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #000; }
body { margin: 0 auto; width: 196mm; font: 8.5pt/1.15 Arial, Helvetica, "Liberation Sans",
  sans-serif; overflow-wrap: break-word; }
@media screen { body { padding: 6mm 0; } }
h1 { font-size: 14pt; margin: 0; line-height: 1.1; display: inline; }
h2 { font-size: 10pt; margin: 1.2mm 0 0.5mm; border-bottom: 0.6mm solid #000; line-height: 1.2;
  break-after: avoid; }
p, ul, ol { margin: 0 0 0.4mm; }
header { display: flex; justify-content: space-between; gap: 6mm; font-size: 10.5pt;
  border-bottom: 1mm solid #000; padding-bottom: 0.6mm; }
header p { margin: 0; display: inline; padding-left: 3mm; }
header div { min-width: 0; align-self: flex-end; }
.who { text-align: right; }
.key { font-size: 7.5pt; font-weight: normal; margin-left: 4mm; }
.key span { margin-right: 4mm; white-space: nowrap; }
svg { display: inline-block; vertical-align: middle; overflow: visible; fill: #000; }
.columns { display: flex; gap: 4mm; align-items: flex-start; }
.columns table { width: 96mm; }
.row { display: flex; gap: 4mm; align-items: flex-start; }
.row > * { flex: 1 1 0; min-width: 0; }
.row > .wide { flex-grow: 1.5; }
table { border-collapse: collapse; table-layout: fixed; width: 100%; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
td, th { padding: 0 0.6mm; text-align: left; vertical-align: middle; }
th { font-size: 7.5pt; font-weight: normal; line-height: 1.1; white-space: nowrap; }
.setup td { border-bottom: 0.15mm solid #000; height: 3.8mm; line-height: 0.95; }
.setup td:first-child { font-size: 8pt; padding-bottom: 0.2mm; }
.note { font-size: 7pt; margin-top: 0.8mm; }
.setup .group th { font-size: 8.5pt; font-weight: bold; padding-top: 0.3mm;
  border-bottom: 0.4mm solid #000; }
.setup thead th:not(:first-child) { text-align: right; }
col.t { width: 21mm; } col.u { width: 15mm; } col.b { width: 9.5mm; } col.a { width: 17mm; }
col.r { width: 15.5mm; } col.p { width: 18mm; }
.now { text-align: right; font-weight: bold; }
.to, .name, .span { text-align: right; }
.to, .span { white-space: nowrap; }
.span { font-size: 7pt; padding: 0; }
.to { padding: 0; }
.setup .plot { padding: 0; text-align: right; line-height: 0; }
.box { border: 0.3mm solid #000; padding: 0 0.5mm; }
.day { font-size: 8.5pt; }
.day td { border: 0.2mm solid #000; vertical-align: top; padding: 0.2mm 0.6mm; }
.day th:nth-child(1) { width: 5mm; }
.day th:nth-child(2) { width: 14mm; }
.day th:nth-child(3) { width: 9mm; }
.day th:nth-child(4) { width: 68mm; }
.day th:nth-child(5) { width: 8mm; }
.day th:nth-child(7) { width: 11mm; }
.day th:nth-child(8) { width: 15.5mm; }
.changed, .said { font-size: 8pt; }
.day td:nth-child(2) { hyphens: auto; }
.laps { font-size: 7.5pt; table-layout: auto; margin-top: 0.6mm; }
.laps td { border-bottom: 0.15mm solid #000; white-space: nowrap; padding: 0.2mm 0.4mm; }
.laps th { padding: 0 0.4mm; }
.pen td { height: 5.6mm; }
.letter { font-weight: bold; font-size: 10pt; text-align: center; line-height: 1; }
.number { text-align: right; white-space: nowrap; }
.small { font-size: 7pt; }
.first { border: 0.7mm solid #000; padding: 0.6mm 1.2mm; font-size: 7.5pt; }
.big { font-size: 9.5pt; }
ul, ol { padding-left: 3.5mm; }
ul.ticks { list-style: none; padding: 0; font-size: 8pt; }
ul.ticks li { position: relative; padding-left: 4.2mm; margin-bottom: 0.4mm; break-inside: avoid; }
ul.ticks li::before { content: ""; position: absolute; left: 0; top: 0.2mm; width: 2.6mm;
  height: 2.6mm; border: 0.35mm solid #000; }
ul.two { columns: 2; column-gap: 4mm; }
"""
