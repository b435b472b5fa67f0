#pragma once

#include <condition_variable>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "daemon/collect/archive.hpp"
#include "daemon/collect/collector.hpp"
#include "daemon/http/http_server.hpp"

namespace oxherd::daemon::collect {

/// The page of all sites, from the database alone; it orders nothing. Two threads with a connection each: one tells how
/// the rooms stand, one answers questions.
class Page {
public:
  /// @param health  of the collector, for the view of the program itself
  Page(const CollectSettings& settings, const std::filesystem::path& state_dir, std::function<CollectHealth()> health);
  ~Page();
  Page(const Page&) = delete;
  Page& operator=(const Page&) = delete;

private:
  struct Question {
    std::string line;
    std::function<void(std::string)> reply;
  };
  void tell();
  [[nodiscard]] std::string tell_once(std::unique_ptr<Archive>& archive);
  void answer_all();
  [[nodiscard]] std::string answer(std::unique_ptr<Archive>& archive, const std::string& line);
  [[nodiscard]] std::string status_json() const;
  [[nodiscard]] std::string alarms_json() const;

  const CollectSettings settings_;
  const std::function<CollectHealth()> health_;
  const WallTime started_;
  mutable std::mutex mutex_; ///< guards from here to `stopping_`
  std::condition_variable wake_;
  std::vector<Question> questions_;
  std::vector<std::string> rooms_json_;
  std::uint64_t told_ = 0; ///< how often the rooms were told
  bool stopping_ = false;
  std::set<std::string> known_; ///< of the thread that tells
  std::unique_ptr<http::HttpServer> server_;
  std::thread teller_, answerer_;
};

} // namespace oxherd::daemon::collect
