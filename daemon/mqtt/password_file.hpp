#pragma once

#include <string>

#include <tl/expected.hpp>

namespace oxherd::daemon {

/// Reads the broker's password: the whole file without the line end at its end. Refused, with a sentence that says what
/// to do: a file that its group or others may read, that is no plain file, is empty, or is longer than 4096 bytes.
[[nodiscard]] tl::expected<std::string, std::string> read_password(const std::string& file);
/// The same of another file; `key`: the setting that names it, for the sentence.
[[nodiscard]] tl::expected<std::string, std::string> read_secret(const std::string& key, const std::string& file);

} // namespace oxherd::daemon
