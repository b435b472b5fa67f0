#include "daemon/logfile/input.hpp"

#include <algorithm>
#include <cerrno>
#include <cstring>

#include <fcntl.h>
#include <fmt/core.h>
#include <sys/stat.h>
#include <unistd.h>

namespace oxherd::daemon::logfile {
namespace {

constexpr std::string_view utf8_mark = "\xEF\xBB\xBF";

/// A splitter that takes whole lines: no delimiter, no quotes.
const RowSplitter& line_splitter() {
  static const RowSplitter lines{Dialect{.delimiter = '\n', .quote = 0, .comment = {}}};
  return lines;
}

} // namespace

tl::expected<std::unique_ptr<FileSource>, Failure> FileSource::open(const std::string& name) {
  const bool standard = name == "-";
  const int descriptor = standard ? STDIN_FILENO : ::open(name.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) return tl::unexpected(Failure{fmt::format("{}: cannot be read: {}", name, std::strerror(errno))});
  auto source = std::unique_ptr<FileSource>{new FileSource{standard ? "standard input" : name, descriptor}};
  struct stat status {};
  if (fstat(descriptor, &status) != 0)
    return tl::unexpected(Failure{fmt::format("{}: cannot be read: {}", name, std::strerror(errno))});
  if (S_ISDIR(status.st_mode))
    return tl::unexpected(Failure{fmt::format("{}: is a directory; name the file itself", name)});
  if (S_ISREG(status.st_mode)) source->size_ = static_cast<std::uint64_t>(status.st_size);
  source->identity_ = {status.st_dev, status.st_ino};
  static_cast<void>(posix_fadvise(descriptor, 0, 0, POSIX_FADV_SEQUENTIAL)); // a hint: a pipe takes none
  return source;
}

FileSource::~FileSource() {
  if (descriptor_ > STDIN_FILENO) close(descriptor_);
}

tl::expected<std::size_t, Failure> FileSource::read(char* to, std::size_t room) {
  while (true) {
    const ssize_t got = ::read(descriptor_, to, room);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return tl::unexpected(Failure{fmt::format("{}: cannot be read: {}", name_, std::strerror(errno))});
    const auto n = static_cast<std::size_t>(got);
    bytes_ += n;
    digest_.add({to, n});
    return n;
  }
}

RowReader::RowReader(ByteSource& source, std::string name, std::size_t buffer)
    : source_{&source}, name_{std::move(name)}, buffer_(buffer) {}

tl::expected<void, Failure> RowReader::refill() {
  std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
  end_ -= begin_;
  begin_ = 0;
  while (!at_end_ && end_ < buffer_.size()) {
    const auto got = source_->read(buffer_.data() + end_, buffer_.size() - end_);
    if (!got) return tl::unexpected(got.error());
    at_end_ = *got == 0;
    end_ += *got;
  }
  return {};
}

tl::expected<std::string_view, Failure> RowReader::first_bytes() {
  if (const auto filled = refill(); !filled) return tl::unexpected(filled.error());
  const auto text = rest();
  const bool wide = text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF");
  if (wide || (text.size() >= 4 && (text[0] == 0 || text[1] == 0)))
    return tl::unexpected(
        Failure{fmt::format("{}: is UTF-16 text; convert it first: iconv -f UTF-16 -t UTF-8", name_)});
  if (text.find('\n') == text.npos && std::count(text.begin(), text.end(), '\r') > 1)
    return tl::unexpected(
        Failure{fmt::format("{}: its lines end with CR alone; convert it first: tr '\\r' '\\n'", name_)});
  mark_ = text.starts_with(utf8_mark) ? utf8_mark : std::string_view{};
  begin_ += mark_.size();
  return rest();
}

std::string_view RowReader::first_line_end() const {
  const auto feed = rest().find('\n');
  return feed != std::string_view::npos && feed > 0 && rest()[feed - 1] == '\r' ? "\r\n" : "\n";
}

/// A piece of a row that is longer than the buffer.
void RowReader::take_piece(Row& row) {
  const auto text = rest();
  const auto feed = text.find('\n');
  row.fields.clear();
  row.open_quote = false;
  row.too_long = true;
  row.lines = 1;
  row.line = line_;
  row.unfinished = feed == text.npos && !at_end_;
  std::size_t content = std::min(feed, text.size());
  std::size_t used = std::min(feed == text.npos ? feed : feed + 1, text.size());
  if (feed != text.npos && content > 0 && text[content - 1] == '\r') --content;
  // A carriage return at the very end may belong to the line end that is still to come.
  if (row.unfinished && text.size() > 1 && text.back() == '\r') content = used = text.size() - 1;
  row.bytes = text.substr(0, content);
  row.line_end = text.substr(content, used - content);
  begin_ += used;
  in_long_row_ = row.unfinished;
  if (!row.unfinished) line_ += 1;
}

tl::expected<bool, Failure> RowReader::take(Row& row, const RowSplitter& splitter) {
  std::size_t used = in_long_row_ ? 0 : splitter.split(rest(), at_end_, row);
  if (used == 0) {
    if (const auto filled = refill(); !filled) return tl::unexpected(filled.error());
    if (in_long_row_) {
      take_piece(row);
      return true;
    }
    if (begin_ == end_) return false;
    used = splitter.split(rest(), at_end_, row);
    // A quote that no buffer sees closed was never meant as one: the line is taken as it stands.
    if (used == 0) used = splitter.split_line(rest(), at_end_, row);
    if (used == 0) {
      take_piece(row);
      return true;
    }
  }
  row.line = line_;
  line_ += row.lines;
  begin_ += used;
  return true;
}

tl::expected<bool, Failure> RowReader::next_line(Row& row) { return take(row, line_splitter()); }

tl::expected<bool, Failure> RowReader::next(Row& row) { return take(row, *splitter_); }

} // namespace oxherd::daemon::logfile
