#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "daemon/notify/attempt.hpp"
#include "daemon/notify/escalation.hpp"

namespace oxherd::daemon::notify {

/// Attempts that another thread carries out and nobody can break off. One that is not done by its deadline has failed
/// for now, but it goes on: tried again it is not begun a second time, and when it succeeds after all, that counts.
/// Used from one thread, but for the `Done` that it gives away.
class Aside {
public:
  /// Says how it ended: why it failed, or nothing. Any thread, at any time, also when the Aside is gone.
  using Done = std::function<void(std::string trouble)>;
  struct Errand {
    std::int64_t key = 0; ///< of the parcel
    std::string where;    ///< a directory or topic: the same parcel to another place is another errand
    Monotonic until{0};
    std::string when_late; ///< what is said when it is not done by then
    std::function<void(Done)> begin;
  };

  explicit Aside(std::function<void()> wake); ///< `wake` is called by each Done, under a lock; it must not block
  ~Aside();
  Aside(const Aside&) = delete;
  Aside& operator=(const Aside&) = delete;

  void send(const Errand& errand);
  [[nodiscard]] std::vector<Attempt> ended(Monotonic now);
  /// The earliest deadline of those that are awaited, `otherwise` when it comes first.
  [[nodiscard]] Monotonic deadline(Monotonic otherwise) const;

private:
  using Key = std::pair<std::int64_t, std::string>;
  struct Out {
    bool awaited = true; ///< else it has failed for now
    Monotonic until{0};
    std::string when_late;
  };
  struct Inbox;
  std::map<Key, Out> out_;
  std::shared_ptr<Inbox> inbox_;
};

} // namespace oxherd::daemon::notify
