#include "demo/larkfield.hpp"

#include <algorithm>
#include <stdexcept>

#include <poll.h>

namespace oxherd::demo {

Larkfield::Larkfield(LarkfieldOptions options)
    : options_{std::move(options)}, site_{options_.seed}, player_{site_, std::move(options_.story)}, devices_{site_},
      tcp_{devices_, options_.tcp_port} {
  if (!(options_.speed > 0.0 && options_.speed <= 3600.0))
    throw std::runtime_error("the speed must be above 0 and at most 3600");
  if (options_.rtu_link) serial_ = std::make_unique<SerialServer>(devices_, *options_.rtu_link);
  if (options_.orders) orders_ = std::make_unique<OrderPipe>(*options_.orders);
  if (options_.truth) truth_ = std::make_unique<TruthLog>(*options_.truth);
}

OutputModule::Monotonic Larkfield::real_time() const {
  return std::chrono::duration_cast<OutputModule::Monotonic>(Clock::now() - start_);
}

std::chrono::microseconds Larkfield::catch_up() {
  // After a suspended machine wakes, hours may have passed: the physics go on from where they were.
  constexpr Clock::duration longest = std::chrono::seconds{1};
  const auto now = Clock::now();
  const auto elapsed = std::min(now - last_, longest);
  last_ = now;
  return std::chrono::duration_cast<std::chrono::microseconds>(elapsed * options_.speed);
}

void Larkfield::obey(std::vector<std::string>& told) {
  if (!orders_) return;
  for (const auto& line : orders_->lines()) {
    const auto action = parse_order(line);
    const auto done = action ? site_.apply(*action) : tl::unexpected(action.error());
    told.push_back(done ? "[order] " + line : "[order] not done: " + line + ": " + done.error());
  }
}

std::vector<std::string> Larkfield::round(std::chrono::milliseconds longest) {
  std::vector<pollfd> waiting;
  tcp_.add_to(waiting);
  if (serial_) waiting.push_back({serial_->descriptor(), POLLIN, 0});
  if (orders_) waiting.push_back({orders_->descriptor(), POLLIN, 0});
  // An interrupted or failed wait is no harm: nothing below blocks.
  static_cast<void>(::poll(waiting.data(), waiting.size(), static_cast<int>(longest.count())));

  std::vector<std::string> lines = player_.advance(catch_up());
  obey(lines);
  const auto now = real_time();
  tcp_.serve(now);
  if (serial_) serial_->serve(now);
  for (const auto name : devices_.tick(now))
    lines.push_back("[" + std::string{name} + "] nobody has written for 10 s: the relays drop");
  if (truth_) {
    const auto wall = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
    if (!truth_->write(site_, devices_.outputs(), wall))
      throw std::runtime_error("cannot write " + options_.truth.value_or(""));
  }
  return lines;
}

} // namespace oxherd::demo
