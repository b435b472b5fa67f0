#include "daemon/store/reasons_text.hpp"

#include <nlohmann/json.hpp>

namespace oxherd::daemon::store {
namespace {

using alarms::ReasonKind;
using nlohmann::json;

/// How the texts of lost probes began when a reason was stored as [status, text] alone. That the thermometer of a
/// humidity probe was lost read like the loss of the temperature itself. Not to be added to.
constexpr std::pair<std::string_view, ReasonKind> old_beginnings[] = {
    {"temperature probe lost", ReasonKind::temperature_lost},
    {"humidity probe lost", ReasonKind::humidity_lost},
    {"pressure probe lost", ReasonKind::pressure_lost}};

ReasonKind old_kind(std::string_view text) {
  for (const auto& [beginning, kind] : old_beginnings)
    if (text.starts_with(beginning)) return kind;
  return ReasonKind::other;
}

} // namespace

std::string reasons_text(const std::vector<alarms::Reason>& reasons) {
  if (reasons.empty()) return {};
  json out = json::array();
  for (const auto& reason : reasons) {
    json one{alarms::name_of(reason.status), reason.text};
    if (reason.kind != ReasonKind::other) one.push_back(alarms::name_of(reason.kind));
    out.push_back(std::move(one));
  }
  return out.dump(-1, ' ', false, json::error_handler_t::replace);
}

tl::expected<std::vector<alarms::Reason>, std::string> reasons_from(std::string_view text) {
  std::vector<alarms::Reason> reasons;
  if (text.empty()) return reasons;
  try {
    for (const auto& one : json::parse(text)) {
      const auto status = alarms::status_named(one.at(0).get<std::string>());
      if (!status) return tl::unexpected(std::string{"the reasons of the reading have a status that is not known"});
      auto words = one.at(1).get<std::string>();
      const auto kind = one.size() > 2
                            ? alarms::reason_kind_named(one.at(2).get<std::string>()).value_or(ReasonKind::other)
                            : old_kind(words);
      reasons.push_back({*status, std::move(words), kind});
    }
  } catch (const std::exception& error) {
    return tl::unexpected(std::string{"the reasons of the reading cannot be read: "} + error.what());
  }
  return reasons;
}

} // namespace oxherd::daemon::store
