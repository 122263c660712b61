"""The style sheet of all reports."""

# Made for print: black on white, no meaning by colour alone, no paper size forced (A4 and Letter
# are both wide enough for 178 mm).
STYLE = """
@page { margin: 16mm 14mm 18mm 16mm;
  @bottom-left { content: RUNNING_TITLE; font: 8pt "DejaVu Sans", sans-serif; color: #3c4a57; }
  @bottom-right { content: PAGE_WORD counter(page) OF_WORD counter(pages); white-space: nowrap;
    font: 8pt "DejaVu Sans", sans-serif; color: #3c4a57; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 6mm 4mm; max-width: 186mm; color: #1b242c; background: #fff;
  font: 10pt/1.42 "DejaVu Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif; }
header { border-bottom: 1.2mm solid #1d3557; padding-bottom: 2.5mm; margin-bottom: 4mm; }
h1 { font-size: 17pt; line-height: 1.2; margin: 0 0 1.5mm; color: #1d3557; }
header p { margin: 0; color: #3c4a57; overflow-wrap: anywhere; }
h2 { font-size: 12.5pt; margin: 6mm 0 2mm; color: #1d3557; \
border-bottom: 0.25mm solid #9aa6b2; padding-bottom: 0.8mm; break-after: avoid; }
h2.part { border: 0; font-size: 14pt; margin-top: 10mm; }
h3 { font-size: 10.5pt; margin: 5mm 0 1.5mm; break-after: avoid; }
p, li { margin: 0 0 1.8mm; orphans: 3; widows: 3; }
ul { margin: 0; padding-left: 5mm; }
table { border-collapse: collapse; width: 100%; margin: 0 0 3mm; font-size: 9pt; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: 0.9mm 1.6mm; \
border-bottom: 0.2mm solid #c3cbd3; overflow-wrap: anywhere; }
thead th { border-bottom: 0.5mm solid #1d3557; font-weight: 600; vertical-align: bottom; \
overflow-wrap: normal; }
tbody th { font-weight: 600; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
thead th.n { white-space: normal; }
.one { white-space: nowrap; }
.words { overflow-wrap: normal; }
.id { display: inline-block; min-width: 18mm; }
table.many { font-size: 8pt; }
table.many th, table.many td { padding: 0.8mm 1mm; }
tr.sum > * { border-top: 0.5mm solid #1d3557; font-weight: 600; }
table.facts th { width: 62mm; }
table.block { border: 0.3mm solid #9aa6b2; margin: 0 0 3mm; table-layout: fixed; }
table.block td { border: 0.2mm solid #c3cbd3; height: 8mm; padding: 0.4mm 1.6mm; \
font-size: 8.5pt; }
table.block td:last-child { width: 39%; }
table.block small { display: block; color: #3c4a57; font-size: 7.5pt; }
table.narrow { width: auto; min-width: 80mm; }
table.keep { break-inside: avoid; }
.lead { border-left: 1.6mm solid #1d3557; padding: 0.5mm 0 0.5mm 3.5mm; margin-bottom: 3mm; }
.lead p { margin-bottom: 1.4mm; }
.note { color: #3c4a57; font-size: 9pt; }
.ids { font-size: 9pt; overflow-wrap: anywhere; }
figure { margin: 0 0 4mm; break-inside: avoid; }
figure svg { display: block; width: 100%; height: auto; }
figcaption { font-size: 9pt; color: #3c4a57; margin-top: 1mm; overflow-wrap: anywhere; }
figure.single { max-width: 110mm; }
.keys span { white-space: nowrap; margin-right: 3mm; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 4mm; }
svg.key { display: inline-block; width: 13mm; height: 3mm; vertical-align: middle; }
.sign { display: grid; grid-template-columns: 1fr 1fr; gap: 9mm 8mm; margin-top: 14mm; \
break-inside: avoid; }
.sign div { border-top: 0.3mm solid #1b242c; padding-top: 1mm; font-size: 9pt; }
.end, .keep { break-inside: avoid; }
.first { break-after: page; }
.first h2 { margin: 3mm 0 1.5mm; }
.first table { font-size: 8.5pt; margin-bottom: 1.5mm; }
.first th, .first td { padding: 0.7mm 1.4mm; }
.first .lead { font-size: 9.5pt; line-height: 1.36; }
.first figcaption { font-size: 8.5pt; line-height: 1.3; }
.first figure { margin-bottom: 2.5mm; }
.first + section h2 { margin-top: 0; }
@media print { body { padding: 0; max-width: none; } }
"""
