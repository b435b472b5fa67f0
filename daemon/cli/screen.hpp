#pragma once

#include <csignal>
#include <ostream>
#include <string_view>

#include "daemon/cli/watch_text.hpp"

namespace oxherd::daemon::cli {

/// The whole of a terminal while it lives; what stood there before comes back in the end, with the cursor.
class Screen {
public:
  explicit Screen(std::ostream& to);
  ~Screen();
  Screen(const Screen&) = delete;
  Screen& operator=(const Screen&) = delete;
  [[nodiscard]] static ScreenSize size();
  /// Draws lines over what stands there, without a moment of emptiness.
  void draw(std::string_view lines);

private:
  std::ostream& to_;
  struct sigaction before_ {};
};

/// What is written to draw lines over those before.
[[nodiscard]] std::string drawing(std::string_view lines);

} // namespace oxherd::daemon::cli
