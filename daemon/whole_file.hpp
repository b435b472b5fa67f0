#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

namespace oxherd::daemon {

/// Puts a file in place, for its owner alone: all of it on the disk under another name first, so that a power cut
/// leaves the old file or the new one.
/// @return which file, and what is wrong with it
[[nodiscard]] tl::expected<void, std::string> write_whole_file(const std::filesystem::path& file,
                                                               std::string_view text);

} // namespace oxherd::daemon
