#include <algorithm>
#include <chrono>

#include <fmt/core.h>

#include "config/load.hpp"
#include "daemon/calibration/certificate.hpp"
#include "daemon/cli/cell_records.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/logfile/output_file.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> certificate_options() {
  return {
      {"--html", "FILE", "write the page here; - is standard output (default)", "certificate-7.html"},
      {"--force", "", "replace FILE when it exists", ""},
      {"--conformity", "", "state whether a check's errors are within the tolerance, with the rule of decision", ""},
      config_option(),
      state_dir_option(),
      json_option("print the statements as one line of JSON in place of the page")};
}

tl::expected<std::int64_t, std::string> number_in(const Arguments& arguments) {
  const auto& words = arguments.positional();
  if (words.size() != 1)
    return tl::unexpected(std::string{"name one record by its number; `oxherd calibrations ROOM/SENSOR` lists them"});
  const auto& word = words.front();
  if (const auto number = whole_number(word); number && *number > 0) return *number;
  return tl::unexpected(fmt::format(
      "\"{}\" is not the number of a record; `oxherd calibrations ROOM/SENSOR` lists them", printable(word)));
}

/// Who issues it, from the settings; what is missing there is said, because it is missing on the certificate too.
CertificateHead head_from(const Arguments& arguments, Console& console) {
  const auto file = config_file_of(arguments);
  const auto loaded = config::load(file, profile_dirs());
  if (!loaded) {
    console.err << fmt::format("oxherd certificate: no settings could be read from {} (`oxherd check` says why): the "
                               "certificate names no organisation, place and owner\n",
                               printable(file));
    return {};
  }
  const auto& issuer = loaded->settings.site.issuer;
  std::string missing;
  for (const auto& [key, value] : {std::pair{"organisation", &issuer.organisation}, std::pair{"owner", &issuer.owner}})
    if (value->empty()) missing += (missing.empty() ? "" : " and ") + std::string{key};
  if (!missing.empty())
    console.err << fmt::format("oxherd certificate: [site] of {} does not state {}: neither does the certificate\n",
                               printable(file), missing);
  return head_of(issuer);
}

int write_page(const std::string& file, bool force, const std::string& page, Console& console) {
  auto output = logfile::OutputFile::create(file, force);
  if (!output) return report(console, "certificate", {failed, printable(output.error().what)});
  auto written = (*output)->write(page);
  if (written) written = (*output)->finish();
  if (!written) return report(console, "certificate", {failed, printable(written.error().what)});
  console.err << fmt::format("oxherd certificate: written to {}\n", printable(file));
  return fine;
}

int run_certificate(const Arguments& arguments, Console& console) {
  const auto number = number_in(arguments);
  if (!number) return report(console, "certificate", {usage, number.error()});
  const bool json = arguments.given("--json");
  const auto file = arguments.value_or("--html", "-");
  if (json && arguments.given("--html"))
    return report(console, "certificate", {usage, "--json and --html exclude each other"});
  const auto known = known_cells(arguments, console, "certificate", WantedOfCells::records);
  if (!known) return report(console, "certificate", known.error());
  const auto record = std::ranges::find(known->records, *number, &CalibrationRecord::number);
  if (record == known->records.end())
    return report(
        console, "certificate",
        {failed, fmt::format("there is no record {}; `oxherd calibrations ROOM/SENSOR` lists them", *number)});
  CertificateOptions options;
  options.head = head_from(arguments, console);
  options.issued = wall_now();
  options.standing = standing_of(known->records, *number);
  if (arguments.given("--conformity")) options.conformity = CheckTolerance{};
  const auto text = json ? certificate_json(*record, options) : certificate_html(*record, options);
  if (!text) return report(console, "certificate", {failed, text.error()});
  if (options.standing.kind != Standing::Kind::stands)
    console.err << fmt::format(
        "oxherd certificate: record {} no longer stands (see record {}); the certificate says so\n", *number,
        options.standing.by);
  if (!json && file != "-") return write_page(file, arguments.given("--force"), *text, console);
  console.out << *text << (text->ends_with('\n') ? "" : "\n");
  return fine;
}

} // namespace

const Command certificate_entry{
    "certificate",
    "the certificate of one calibration record, to print or as JSON",
    "Writes the certificate of a record as one HTML page laid out for A4. Organisation, place and owner stand in "
    "[site] "
    "of the settings; what is not stated there is named as not stated. A record that was superseded or withdrawn is "
    "marked so across the page. Asks the daemon, or reads its files when none runs.",
    "NUMBER",
    "oxherd certificate 7 --html certificate-7.html\n"
    "oxherd certificate 7 --config larkfield.toml --json",
    certificate_options,
    run_certificate};

} // namespace oxherd::daemon::cli
