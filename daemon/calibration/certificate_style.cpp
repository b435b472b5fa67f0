#include "daemon/calibration/certificate_style.hpp"

#include "daemon/calibration/html.hpp"

namespace oxherd::daemon {
namespace {

constexpr std::string_view page_rules = R"(
@page {
  size: A4;
  margin: 18mm 18mm 20mm 18mm;
  @bottom-left { content: NUMBER; font: 8pt sans-serif; color: #444; }
  @bottom-right { content: "Page " counter(page) " of " counter(pages); font: 8pt sans-serif; color: #444; }
}
)";

constexpr std::string_view rules = R"(
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #1a1a1a; font: 10pt/1.45 "DejaVu Sans", "Liberation Sans", sans-serif; }
main { max-width: 174mm; margin: 0 auto; padding: 12mm 6mm; }
header { display: flex; justify-content: space-between; gap: 10mm; border-bottom: 1.5pt solid #1a1a1a; padding-bottom: 4mm; }
header p { margin: 0; }
.organisation { font-weight: bold; }
.number { text-align: right; white-space: nowrap; }
.number strong { font-size: 12pt; }
h1 { font-size: 18pt; line-height: 1.2; margin: 7mm 0 1mm; }
h2 { font-size: 10.5pt; margin: 6mm 0 1.5mm; border-bottom: 0.5pt solid #888; padding-bottom: 0.7mm; break-after: avoid; }
p { margin: 1mm 0; }
.lead { color: #333; }
dl { display: grid; grid-template-columns: 42mm 1fr; gap: 0.6mm 4mm; margin: 0; }
dt { color: #444; }
dd { margin: 0; overflow-wrap: anywhere; }
table { width: calc(100% - 1px); border-collapse: collapse; margin: 1.5mm 0; break-inside: avoid; font-size: 9pt; }
th, td { border: 0.5pt solid #999; padding: 1mm 1.8mm; text-align: left; vertical-align: top; overflow-wrap: break-word; }
th { background: #f2f2f2; font-weight: bold; }
td:first-child { white-space: nowrap; }
td.long, .small { overflow-wrap: anywhere; }
td.figure { white-space: nowrap; font-variant-numeric: tabular-nums; }
td.figure .small { white-space: normal; }
.void { border: 2.5pt solid #1a1a1a; padding: 3mm 5mm; margin: 5mm 0 0; font-size: 17pt; font-weight: bold; text-align: center; }
.void-mark { position: fixed; top: 42%; left: 0; right: 0; text-align: center; font-size: 64pt; font-weight: bold;
  color: rgba(0, 0, 0, 0.10); transform: rotate(-28deg); pointer-events: none; }
.signature { display: grid; grid-template-columns: 1fr 1fr; gap: 14mm; margin-top: 12mm; break-inside: avoid; }
.signature div { border-top: 0.5pt solid #1a1a1a; padding-top: 1mm; }
.caution { border: 1pt solid #1a1a1a; padding: 2mm 3mm; margin-top: 6mm; font-size: 8.5pt; break-inside: avoid; }
.small { font-size: 8.5pt; color: #333; }
.end { text-align: center; margin: 6mm 0 0; font-size: 9pt; }
@media print { main { max-width: none; padding: 0; } }
)";

} // namespace

std::string certificate_style(std::string_view number) {
  std::string page{page_rules};
  constexpr std::string_view mark = "NUMBER";
  page.replace(page.find(mark), mark.size(), css_string(number));
  return "<style>" + page + std::string{rules} + "</style>";
}

} // namespace oxherd::daemon
