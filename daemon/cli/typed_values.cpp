#include "daemon/cli/typed_values.hpp"

#include <fmt/core.h>

#include "daemon/cli/explain_options.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {

bool TypedValues::given(std::string_view name) const { return arguments_.given(fmt::format("--{}", name)); }

void TypedValues::problem(std::string text) {
  if (problem_.empty()) problem_ = std::move(text);
}

std::optional<double> TypedValues::parsed(const std::string& option, compensation::Dimension dimension) {
  const auto typed = arguments_.value(option);
  if (!typed) return std::nullopt;
  const auto si = compensation::parse_quantity(*typed, dimension);
  if (si) return *si;
  problem(fmt::format("{}: {}", option, printable(si.error().message)));
  return std::nullopt;
}

std::optional<double> TypedValues::value(std::string_view name, compensation::Dimension dimension) {
  return parsed(fmt::format("--{}", name), dimension);
}

double TypedValues::uncertainty(std::string_view name, compensation::Dimension dimension, double otherwise) {
  const auto option = fmt::format("--u-{}", name);
  const auto u = parsed(option, uncertainty_dimension(dimension));
  if (u && *u < 0.0) problem(fmt::format("{}: a standard uncertainty cannot be negative", option));
  return u.value_or(otherwise);
}

} // namespace oxherd::daemon::cli
