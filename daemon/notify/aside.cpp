#include "daemon/notify/aside.hpp"

#include <algorithm>
#include <mutex>

namespace oxherd::daemon::notify {

struct Aside::Inbox {
  std::mutex lock;
  std::function<void()> wake; ///< empty once nobody listens any more
  std::vector<std::pair<Key, std::string>> done;
};

Aside::Aside(std::function<void()> wake) : inbox_{std::make_shared<Inbox>()} { inbox_->wake = std::move(wake); }

Aside::~Aside() {
  const std::lock_guard hold{inbox_->lock};
  inbox_->wake = nullptr;
}

void Aside::send(const Errand& errand) {
  const Key key{errand.key, errand.where};
  const bool is_new = out_.insert_or_assign(key, Out{true, errand.until, errand.when_late}).second;
  if (!is_new) return;
  errand.begin([inbox = inbox_, key](std::string trouble) {
    const std::lock_guard hold{inbox->lock};
    if (!inbox->wake) return;
    inbox->done.emplace_back(key, std::move(trouble));
    inbox->wake();
  });
}

std::vector<Attempt> Aside::ended(Monotonic now) {
  std::vector<std::pair<Key, std::string>> done;
  {
    const std::lock_guard hold{inbox_->lock};
    done.swap(inbox_->done);
  }
  std::vector<Attempt> attempts;
  for (auto& [key, trouble] : done) {
    const auto found = out_.find(key);
    if (found == out_.end()) continue;
    if (found->second.awaited || trouble.empty()) attempts.push_back({key.first, std::move(trouble)});
    out_.erase(found);
  }
  for (auto& [key, out] : out_) {
    if (!out.awaited || now < out.until) continue;
    out.awaited = false;
    attempts.push_back({key.first, out.when_late});
  }
  return attempts;
}

Monotonic Aside::deadline(Monotonic otherwise) const {
  for (const auto& [key, out] : out_)
    if (out.awaited) otherwise = std::min(otherwise, out.until);
  return otherwise;
}

} // namespace oxherd::daemon::notify
