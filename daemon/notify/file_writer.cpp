#include "daemon/notify/file_writer.hpp"

#include <deque>
#include <map>
#include <mutex>
#include <system_error>
#include <thread>

#include "daemon/notify/courier.hpp"

namespace oxherd::daemon::notify {

struct FileWriter::Desks {
  struct Job {
    Parcel parcel;
    Aside::Done done;
  };
  std::mutex lock;
  std::map<std::string, std::deque<Job>> waiting; ///< by directory; one that is there has a thread

  void work(const std::string& directory) {
    for (;;) {
      Job job;
      {
        const std::lock_guard hold{lock};
        auto& jobs = waiting[directory];
        if (jobs.empty()) {
          waiting.erase(directory);
          return;
        }
        job = std::move(jobs.front());
        jobs.pop_front();
      }
      job.done(write_file({directory}, job.parcel).value_or(""));
    }
  }
};

FileWriter::FileWriter() : desks_{std::make_shared<Desks>()} {}
FileWriter::~FileWriter() = default;

void FileWriter::write(const config::CapFilesRoute& route, const Parcel& parcel, Aside::Done done) {
  {
    const std::lock_guard hold{desks_->lock};
    const auto [jobs, is_new] = desks_->waiting.try_emplace(route.directory);
    jobs->second.push_back({parcel, done});
    if (!is_new) return;
    try {
      std::thread{[desks = desks_, directory = route.directory] { desks->work(directory); }}.detach();
      return;
    } catch (const std::system_error&) {
      desks_->waiting.erase(jobs);
    }
  }
  done("no thread can be started to write the file");
}

} // namespace oxherd::daemon::notify
