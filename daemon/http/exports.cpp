#include "daemon/http/exports.hpp"

#include <nlohmann/json.hpp>

#include "daemon/csv_text.hpp"

namespace oxherd::daemon::http {
namespace {

using nlohmann::ordered_json;

std::string field(const ordered_json& value) {
  if (value.is_null()) return {};
  if (value.is_string()) return csv_field(value.get_ref<const std::string&>());
  const std::string text = value.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
  return value.is_number() ? text : csv_field(text);
}

std::string csv_of(const ordered_json& records) {
  std::string out;
  for (const auto& record : records) {
    if (out.empty()) {
      for (const auto& [name, value] : record.items()) out += (out.empty() ? "" : ",") + name;
      out += "\r\n";
    }
    bool first = true;
    for (const auto& [name, value] : record.items()) {
      out += (first ? "" : ",") + field(value);
      first = false;
    }
    out += "\r\n";
  }
  return out;
}

std::string lines_of(const ordered_json& records) {
  std::string out;
  for (const auto& record : records) out += record.dump(-1, ' ', false, ordered_json::error_handler_t::replace) + '\n';
  return out;
}

} // namespace

std::optional<Form> form_of(const HttpRequest& request) {
  const auto format = request.parameter("format");
  if (format == "csv") return Form::csv;
  if (format == "ndjson") return Form::lines;
  if (format == "html") return Form::page;
  if (!format.empty() && format != "json") return std::nullopt;
  const auto accept = request.header("accept");
  if (format.empty() && accept.substr(0, 8) == "text/csv") return Form::csv;
  if (format.empty() && accept.substr(0, 20) == "application/x-ndjson") return Form::lines;
  return Form::json;
}

HttpResponse exported(Form form, const std::string& result_json) {
  const auto result = ordered_json::parse(result_json, nullptr, false);
  const ordered_json* records = nullptr;
  for (const char* name : {"readings", "alarms"})
    if (result.is_object() && result.contains(name) && result[name].is_array()) records = &result[name];
  if (records == nullptr) return {200, "application/json", result_json, {}};
  HttpResponse response;
  response.type = form == Form::csv ? "text/csv; charset=utf-8; header=present" : "application/x-ndjson";
  response.body = form == Form::csv ? csv_of(*records) : lines_of(*records);
  response.headers.emplace_back("Oxherd-Truncated", result.value("truncated", false) ? "true" : "false");
  response.headers.emplace_back("Content-Disposition", form == Form::csv ? "attachment; filename=\"oxherd.csv\""
                                                                         : "attachment; filename=\"oxherd.ndjson\"");
  return response;
}

HttpResponse page_of(const std::string& result_json) {
  const auto result = ordered_json::parse(result_json, nullptr, false);
  if (!result.is_object() || !result.contains("html") || !result["html"].is_string())
    return problem(500, "the daemon wrote no page");
  HttpResponse response{200, "text/html; charset=utf-8", result["html"].get<std::string>(), {}};
  response.headers.emplace_back("Content-Security-Policy",
                                "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'");
  return response;
}

} // namespace oxherd::daemon::http
