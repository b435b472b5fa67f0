#pragma once

namespace oxherd::daemon {

/// The version of this build, from the top CMakeLists.txt.
inline constexpr const char* version = OXHERD_VERSION;

} // namespace oxherd::daemon
