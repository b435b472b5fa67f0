#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/digest.hpp"
#include "daemon/logfile/failure.hpp"
#include "daemon/logfile/row.hpp"

namespace oxherd::daemon::logfile {

/// Where the bytes of a file come from.
class ByteSource {
public:
  virtual ~ByteSource() = default;
  /// Reads at least one byte into `to`; 0 at the end.
  [[nodiscard]] virtual tl::expected<std::size_t, Failure> read(char* to, std::size_t room) = 0;
};

/// Which file it is, to tell two names of one file apart from two files.
struct FileIdentity {
  std::uint64_t device = 0;
  std::uint64_t inode = 0;
  friend bool operator==(const FileIdentity&, const FileIdentity&) = default;
};

/// A file, a pipe or standard input. Keeps the SHA-256 and the number of bytes that were read.
class FileSource final : public ByteSource {
public:
  /// "-" is standard input.
  [[nodiscard]] static tl::expected<std::unique_ptr<FileSource>, Failure> open(const std::string& name);
  ~FileSource() override;
  FileSource(const FileSource&) = delete;
  FileSource& operator=(const FileSource&) = delete;
  [[nodiscard]] tl::expected<std::size_t, Failure> read(char* to, std::size_t room) override;
  [[nodiscard]] std::string sha256() { return digest_.hex(); }
  [[nodiscard]] std::uint64_t bytes_read() const { return bytes_; }
  [[nodiscard]] std::optional<std::uint64_t> size() const { return size_; } ///< of a regular file
  [[nodiscard]] FileIdentity identity() const { return identity_; }

private:
  FileSource(std::string name, int descriptor) : name_{std::move(name)}, descriptor_{descriptor} {}

  std::string name_;
  int descriptor_;
  std::optional<std::uint64_t> size_;
  FileIdentity identity_;
  std::uint64_t bytes_ = 0;
  Digest digest_;
};

/// Reads rows out of a source through one buffer, so that memory does not grow with the file.
class RowReader {
public:
  static constexpr std::size_t buffer_bytes = 1U << 20U;

  /// @param name  stands for the file in failures
  RowReader(ByteSource& source, std::string name, std::size_t buffer = buffer_bytes);

  /// The first bytes of the file behind its byte order mark, as far as one buffer takes them; the rows are read from
  /// the same bytes later. To be called once, before any row.
  /// @return Failure for what cannot be a table of text: UTF-16, line ends of CR alone
  [[nodiscard]] tl::expected<std::string_view, Failure> first_bytes();
  /// Says how rows are divided from here on.
  void divide_by(const Dialect& dialect) { splitter_.emplace(dialect); }
  /// The next line, undivided (for what stands before the table).
  [[nodiscard]] tl::expected<bool, Failure> next_line(Row& row);
  /// The next row, false at the end. A row that no buffer holds comes in pieces.
  [[nodiscard]] tl::expected<bool, Failure> next(Row& row);
  /// The line end of the next line, LF when it has none.
  [[nodiscard]] std::string_view first_line_end() const;
  /// The byte order mark in front of the first line; no row contains it.
  [[nodiscard]] std::string_view mark() const { return mark_; }

private:
  [[nodiscard]] tl::expected<void, Failure> refill();
  [[nodiscard]] tl::expected<bool, Failure> take(Row& row, const RowSplitter& splitter);
  void take_piece(Row& row);
  [[nodiscard]] std::string_view rest() const { return {buffer_.data() + begin_, end_ - begin_}; }

  ByteSource* source_;
  std::string name_;
  std::vector<char> buffer_;
  std::size_t begin_ = 0;
  std::size_t end_ = 0;
  bool at_end_ = false;
  bool in_long_row_ = false;
  std::string_view mark_;
  std::uint64_t line_ = 1;
  std::optional<RowSplitter> splitter_;
};

} // namespace oxherd::daemon::logfile
