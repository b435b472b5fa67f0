#include "alarms/quality.hpp"

#include <algorithm>
#include <cstdlib>

namespace oxherd::alarms {

Quality quality_of(Status status) {
  switch (status) {
  case Status::ok:
  case Status::maintenance_required: return Quality::good;
  case Status::out_of_specification: return Quality::uncertain;
  case Status::function_check:
  case Status::failure: return Quality::bad;
  }
  std::abort(); // not one of the statuses: memory is corrupt, stop loudly
}

Status graver(Status a, Status b) { return std::max(a, b); }

std::string_view name_of(Status status) {
  switch (status) {
  case Status::ok: return "ok";
  case Status::maintenance_required: return "maintenance_required";
  case Status::out_of_specification: return "out_of_specification";
  case Status::function_check: return "function_check";
  case Status::failure: return "failure";
  }
  std::abort();
}

std::optional<Status> status_named(std::string_view name) {
  for (const auto known : {Status::ok, Status::maintenance_required, Status::out_of_specification,
                           Status::function_check, Status::failure})
    if (name_of(known) == name) return known;
  return std::nullopt;
}

std::string_view name_of(Quality quality) {
  switch (quality) {
  case Quality::good: return "good";
  case Quality::uncertain: return "uncertain";
  case Quality::bad: return "bad";
  }
  std::abort();
}

std::string_view name_of(ReasonKind kind) {
  switch (kind) {
  case ReasonKind::other: return "other";
  case ReasonKind::temperature_lost: return "temperature_lost";
  case ReasonKind::humidity_lost: return "humidity_lost";
  case ReasonKind::humidity_temperature_lost: return "humidity_temperature_lost";
  case ReasonKind::pressure_lost: return "pressure_lost";
  case ReasonKind::stuck: return "stuck";
  }
  std::abort();
}

std::optional<ReasonKind> reason_kind_named(std::string_view name) {
  for (const auto known : {ReasonKind::other, ReasonKind::temperature_lost, ReasonKind::humidity_lost,
                           ReasonKind::humidity_temperature_lost, ReasonKind::pressure_lost, ReasonKind::stuck})
    if (name_of(known) == name) return known;
  return std::nullopt;
}

Status gravest(const std::vector<Reason>& reasons) {
  Status worst = Status::ok;
  for (const auto& reason : reasons) worst = graver(worst, reason.status);
  return worst;
}

} // namespace oxherd::alarms
