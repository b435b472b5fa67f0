#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/digest.hpp"
#include "daemon/logfile/failure.hpp"
#include "daemon/logfile/input.hpp"

namespace oxherd::daemon::logfile {

/// A file that appears under its name only when it is complete. Until then it has another name beside it, and it is
/// removed when it is not finished. "-" is standard output, which cannot be taken back.
class OutputFile {
public:
  /// @param force  an existing file of that name may be replaced
  [[nodiscard]] static tl::expected<std::unique_ptr<OutputFile>, Failure> create(const std::string& name, bool force);
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;
  [[nodiscard]] tl::expected<void, Failure> write(std::string_view bytes);
  /// Brings the bytes to the disk and gives the file its name.
  [[nodiscard]] tl::expected<void, Failure> finish();
  [[nodiscard]] const std::string& name() const { return name_; }
  /// SHA-256 of what was written; nothing can be written afterwards.
  [[nodiscard]] std::string sha256() { return digest_.hex(); }
  [[nodiscard]] std::uint64_t bytes_written() const { return bytes_; }

private:
  OutputFile(std::string name, bool force) : name_{std::move(name)}, force_{force} {}

  std::string name_;
  std::string unfinished_; ///< empty: standard output, or finished
  bool force_;
  int descriptor_ = -1;
  Digest digest_;
  std::uint64_t bytes_ = 0;
};

/// Which file stands under a name; nothing when there is none.
[[nodiscard]] std::optional<FileIdentity> identity_of(const std::string& name);

} // namespace oxherd::daemon::logfile
