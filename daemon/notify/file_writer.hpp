#pragma once

#include <memory>

#include "config/notify_settings.hpp"
#include "daemon/notify/aside.hpp"
#include "daemon/notify/parcel.hpp"

namespace oxherd::daemon::notify {

/// Writes the files of "cap-files" on one thread for each directory, which ends when nothing is left to write there: a
/// file system that hangs holds up its own files only, and no more than one thread. A thread that hangs is left behind;
/// what it uses is its own. Used from one thread; `done` is called on another.
class FileWriter {
public:
  FileWriter();
  ~FileWriter();
  void write(const config::CapFilesRoute& route, const Parcel& parcel, Aside::Done done);

private:
  struct Desks;
  std::shared_ptr<Desks> desks_;
};

} // namespace oxherd::daemon::notify
