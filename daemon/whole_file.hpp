#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <system_error>

#include <tl/expected.hpp>

namespace oxherd::daemon {

/// Puts a file in place, for its owner alone: all of it on the disk under another name first, so that a power cut
/// leaves the old file or the new one.
/// @return which file, and what is wrong with it
[[nodiscard]] tl::expected<void, std::string> write_whole_file(const std::filesystem::path& file,
                                                               std::string_view text);

/// For what root has made and a daemon that is not root must read: gives a file to whoever owns its folder. Nothing is
/// done by anybody else.
/// @return what the system says of it
[[nodiscard]] std::error_code give_to_owner_of_folder(const std::filesystem::path& file);

} // namespace oxherd::daemon
