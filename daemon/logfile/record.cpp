#include "daemon/logfile/record.hpp"

#include "alarms/texts.hpp"
#include "daemon/digest.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::logfile {
namespace {

std::string file_json(const std::string& name, std::uint64_t bytes, const std::string& sha256) {
  return JsonObject{}
      .text("file", name)
      .integer("bytes", static_cast<std::int64_t>(bytes))
      .text("sha256", sha256)
      .str();
}

} // namespace

std::string record_json(const Recipe& recipe, const Correction& correction, const Summary& summary) {
  JsonObject out;
  out.text("what", "corrected oxygen of a logger file")
      .text("version", correction.version)
      .text("at", rfc3339(correction.now))
      .json("input", file_json(summary.input, summary.bytes_in, summary.input_sha256));
  if (summary.ambient)
    out.json("second_file", file_json(summary.ambient->name, summary.ambient->bytes, summary.ambient->sha256));
  return out.json("output", file_json(summary.output, summary.bytes_out, summary.output_sha256))
      .json(
          "recipe",
          JsonObject{}.text("file", recipe.name).text("sha256", sha256_of(recipe.text)).text("text", recipe.text).str())
      .json("result", summary_json(summary))
      .text("caution", alarms::caution_long())
      .str();
}

} // namespace oxherd::daemon::logfile
