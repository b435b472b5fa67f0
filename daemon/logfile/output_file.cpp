#include "daemon/logfile/output_file.hpp"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <utility>

#include <fcntl.h>
#include <fmt/core.h>
#include <sys/stat.h>
#include <unistd.h>

namespace oxherd::daemon::logfile {
namespace {

tl::unexpected<Failure> no_write(const std::string& name, std::string_view what) {
  return tl::unexpected(Failure{fmt::format("{}: {}: {}", name, what, std::strerror(errno))});
}

tl::unexpected<Failure> exists_already(const std::string& name) {
  return tl::unexpected(Failure{fmt::format("{}: exists already; --force replaces it", name)});
}

} // namespace

std::optional<FileIdentity> identity_of(const std::string& name) {
  struct stat status {};
  if (stat(name.c_str(), &status) != 0) return std::nullopt;
  return FileIdentity{status.st_dev, status.st_ino};
}

tl::expected<std::unique_ptr<OutputFile>, Failure> OutputFile::create(const std::string& name, bool force) {
  auto file = std::unique_ptr<OutputFile>{new OutputFile{name, force}};
  if (name == "-") {
    file->descriptor_ = STDOUT_FILENO;
    file->name_ = "standard output";
    return file;
  }
  struct stat status {};
  const bool there = lstat(name.c_str(), &status) == 0;
  if (there && !force) return exists_already(name);
  if (there && !S_ISREG(status.st_mode))
    return tl::unexpected(Failure{fmt::format("{}: is not a regular file; it is left alone", name)});
  file->unfinished_ = fmt::format("{}.{}.part", name, getpid());
  file->descriptor_ = open(file->unfinished_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (file->descriptor_ < 0) {
    auto failure = no_write(file->unfinished_, "cannot be created");
    file->unfinished_.clear(); // whatever stands there is not ours to remove
    return failure;
  }
  return file;
}

OutputFile::~OutputFile() {
  if (descriptor_ > STDERR_FILENO) close(descriptor_);
  if (!unfinished_.empty()) unlink(unfinished_.c_str());
}

tl::expected<void, Failure> OutputFile::write(std::string_view bytes) {
  digest_.add(bytes);
  bytes_ += bytes.size();
  while (!bytes.empty()) {
    const ssize_t n = ::write(descriptor_, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return no_write(name_, "cannot be written");
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  return {};
}

tl::expected<void, Failure> OutputFile::finish() {
  if (unfinished_.empty()) return {};
  const bool kept = fsync(descriptor_) == 0;
  const bool closed = close(std::exchange(descriptor_, -1)) == 0;
  if (!kept || !closed) return no_write(name_, "cannot be written");
  // Without --force a file that came into being meanwhile stays: the system refuses in the same step.
  const unsigned flags = force_ ? 0U : RENAME_NOREPLACE;
  if (renameat2(AT_FDCWD, unfinished_.c_str(), AT_FDCWD, name_.c_str(), flags) != 0) {
    if (errno == EEXIST) return exists_already(name_);
    // Some file systems know no such flag.
    if (errno != EINVAL || identity_of(name_)) return no_write(name_, "cannot be given its name");
    if (std::rename(unfinished_.c_str(), name_.c_str()) != 0) return no_write(name_, "cannot be given its name");
  }
  unfinished_.clear();
  return {};
}

} // namespace oxherd::daemon::logfile
