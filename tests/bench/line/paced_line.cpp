// A serial line with Modbus RTU devices on it, as slow as the real one: a pseudo terminal whose bytes come at the pace
// of the baud rate. It tells how much of the time the line was used, against the least time the same polls could take.
//
//   oxherd_bench_line LINK BAUD SECONDS     LINK becomes a link to the terminal; prints one line of JSON at the end
//
// A character has 11 bits. The line is taken to begin with a request when its first byte is seen, and the request to
// last as long as its characters. The device answers after 3.5 characters of silence (1.75 ms above 19200 baud), and
// the next request may begin after the same silence. A silence that is shorter is counted. So that it measures the
// master and not itself, it watches the terminal without sleeping when a request may come.
#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <optional>
#include <thread>
#include <vector>

#include <fcntl.h>
#include <pty.h>
#include <sched.h>
#include <sys/prctl.h>
#include <termios.h>
#include <unistd.h>

namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::nanoseconds;
using Bytes = std::vector<std::uint8_t>;

/// How long before a time the sleep ends and the watching begins.
constexpr std::chrono::microseconds watched{400};

/// Modbus over Serial Line V1.02, 6.2.2.
void append_checksum(Bytes& frame) {
  std::uint16_t crc = 0xFFFF;
  for (const auto byte : frame) {
    crc = static_cast<std::uint16_t>(crc ^ byte);
    for (int bit = 0; bit < 8; ++bit) {
      const bool odd = (crc & 1U) != 0;
      crc = static_cast<std::uint16_t>(crc >> 1U);
      if (odd) crc = static_cast<std::uint16_t>(crc ^ 0xA001U);
    }
  }
  frame.push_back(static_cast<std::uint8_t>(crc & 0xFFU));
  frame.push_back(static_cast<std::uint8_t>(crc >> 8U));
}

void wait_until(Clock::time_point when) {
  std::this_thread::sleep_until(when - watched);
  while (Clock::now() < when) continue;
}

class Line {
public:
  Line(const char* link, int baud)
      : character_{11'000'000'000LL / baud},
        silence_{baud > 19200 ? nanoseconds{1'750'000} : nanoseconds{character_.count() * 7 / 2}} {
    int device = -1;
    std::array<char, 128> name{};
    if (::openpty(&master_, &device, name.data(), nullptr, nullptr) != 0) {
      std::perror("openpty");
      std::exit(1);
    }
    termios settings{};
    ::tcgetattr(device, &settings);
    ::cfmakeraw(&settings);
    ::tcsetattr(device, TCSANOW, &settings);
    ::fcntl(master_, F_SETFL, O_NONBLOCK);
    std::filesystem::remove(link);
    std::filesystem::create_symlink(name.data(), link); // the device stays open, so that the line never hangs up
  }

  void serve_until(Clock::time_point end) {
    for (Clock::time_point answered{}; Clock::now() < end;) {
      const auto begun = await_request(answered + silence_, end);
      if (!begun) return;
      note(answered, *begun);
      Bytes reply = reply_to(request_);
      const auto request_ends = *begun + character_ * static_cast<int>(request_.size());
      if (reply.empty()) continue;
      const auto reply_begins = request_ends + silence_;
      for (std::size_t i = 0; i < reply.size(); ++i) {
        wait_until(reply_begins + character_ * static_cast<int>(i + 1));
        answered = Clock::now(); // before it is handed over: whoever reads it may do so before this thread goes on
        if (::write(master_, &reply[i], 1) != 1) return;
      }
      late_ += answered - (reply_begins + character_ * static_cast<int>(reply.size()));
      shortest_ = 2 * silence_ + character_ * static_cast<int>(request_.size() + reply.size());
    }
  }

  void tell() const {
    auto gaps = gaps_;
    std::sort(gaps.begin(), gaps.end());
    const auto at = [&](double q) {
      return gaps.empty() ? 0.0
                          : static_cast<double>(
                                gaps[static_cast<std::size_t>(q * static_cast<double>(gaps.size() - 1))].count()) /
                                1e3;
    };
    std::printf(
        "{\"polls\": %zu, \"utilisation\": %.5f, \"short_gaps\": %d, \"shortest_gap_us\": %.1f, \"silence_us\": "
        "%.1f, \"gap_over_us\": {\"p50\": %.1f, \"p90\": %.1f, \"p99\": %.1f}, \"line_late_share\": %.5f, \"odd\": "
        "%d}\n",
        gaps.size(), least_ / std::max(1e-9, taken_), short_, at(0) + micro(silence_), micro(silence_), at(0.5),
        at(0.9), at(0.99), std::chrono::duration<double>(late_).count() / std::max(1e-9, taken_), odd_);
  }

private:
  static double micro(nanoseconds t) { return static_cast<double>(t.count()) / 1e3; }

  /// When its first byte was seen; request_ holds it. Bytes come at once, as a master writes them.
  std::optional<Clock::time_point> await_request(Clock::time_point soonest, Clock::time_point end) {
    request_.clear();
    std::this_thread::sleep_until(soonest - 2 * watched);
    while (request_.size() < 8) {
      std::array<std::uint8_t, 256> buffer{};
      const auto n = ::read(master_, buffer.data(), buffer.size());
      if (n <= 0) {
        if (Clock::now() > end) return std::nullopt;
        ::sched_yield(); // to the thread of the kernel that brings the bytes: with two processors it may be behind us
        continue;
      }
      if (request_.empty()) begun_ = Clock::now();
      request_.insert(request_.end(), buffer.begin(), buffer.begin() + n);
    }
    if (request_.size() != 8) ++odd_;
    return begun_;
  }

  void note(Clock::time_point answered, Clock::time_point begun) {
    if (++seen_ <= warm_up || answered == Clock::time_point{}) {
      before_ = begun;
      late_ = {};
      return;
    }
    const auto gap = begun - answered;
    gaps_.push_back(gap - silence_);
    if (gap < silence_) ++short_;
    taken_ += std::chrono::duration<double>(begun - before_).count();
    least_ += std::chrono::duration<double>(shortest_).count();
    before_ = begun;
  }

  static Bytes reply_to(const Bytes& request) {
    if (request[1] != 3 && request[1] != 4) return {};
    const auto count = static_cast<std::size_t>(request[5]);
    Bytes reply{request[0], request[1], static_cast<std::uint8_t>(2 * count)};
    for (std::size_t i = 0; i < count; ++i) { // 21.0 as float32, again and again
      const std::array<std::uint8_t, 4> number{0x41, 0xA8, 0, 0};
      reply.insert(reply.end(), number.begin() + 2 * (i % 2), number.begin() + 2 * (i % 2) + 2);
    }
    append_checksum(reply);
    return reply;
  }

  static constexpr int warm_up = 10;
  nanoseconds character_, silence_, shortest_{};
  int master_ = -1, seen_ = 0, short_ = 0, odd_ = 0;
  Bytes request_;
  Clock::time_point begun_{}, before_{};
  nanoseconds late_{};
  std::vector<nanoseconds> gaps_; ///< beyond the silence that must be
  double taken_ = 0, least_ = 0;  ///< seconds
};

} // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::fputs("oxherd_bench_line LINK BAUD SECONDS\n", stderr);
    return 2;
  }
  ::prctl(PR_SET_TIMERSLACK, 1000UL); // nanoseconds
  Line line{argv[1], std::atoi(argv[2])};
  line.serve_until(Clock::now() + std::chrono::seconds{std::atoi(argv[3])});
  line.tell();
  return 0;
}
