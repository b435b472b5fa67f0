#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "compensation/units.hpp"
#include "control/aids/estimate.hpp"
#include "daemon/cli/arguments.hpp"

namespace oxherd::daemon::cli {

/// Quantities typed as --NAME, each with its standard uncertainty as --u-NAME, SI. Remembers what is wrong first, so
/// that a command asks once, after the last of them.
class TypedValues {
public:
  explicit TypedValues(const Arguments& arguments) : arguments_{arguments} {}

  [[nodiscard]] bool given(std::string_view name) const;
  /// Empty when it is not given, or is no such quantity.
  [[nodiscard]] std::optional<double> value(std::string_view name, compensation::Dimension dimension);
  /// `otherwise` when it is not given. A temperature's is a difference.
  [[nodiscard]] double uncertainty(std::string_view name, compensation::Dimension dimension, double otherwise);

  void problem(std::string text);
  [[nodiscard]] const std::string& problem() const { return problem_; } ///< a sentence; empty: nothing is wrong

private:
  [[nodiscard]] std::optional<double> parsed(const std::string& option, compensation::Dimension dimension);

  const Arguments& arguments_;
  std::string problem_;
};

} // namespace oxherd::daemon::cli
