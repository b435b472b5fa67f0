#pragma once

#include <array>
#include <cstring>
#include <string>
#include <string_view>

#include "daemon/logfile/number.hpp"

namespace oxherd::daemon::logfile {

/// Gathers the many small pieces of rows, so that the output grows seldom. Hands over what it holds when it ends.
class PieceBuffer {
public:
  explicit PieceBuffer(std::string& out) : out_{out} {}
  ~PieceBuffer() { hand_over(); }
  PieceBuffer(const PieceBuffer&) = delete;
  PieceBuffer& operator=(const PieceBuffer&) = delete;

  void add(char c) {
    make_room(1);
    room_.data()[used_++] = c;
  }
  void add(std::string_view text) {
    if (text.empty()) return;
    if (text.size() > room_.size() / 2) {
      hand_over();
      out_ += text;
      return;
    }
    make_room(text.size());
    std::memcpy(room_.data() + used_, text.data(), text.size());
    used_ += text.size();
  }
  void add_fixed(double value, int decimals, char decimal) {
    make_room(fixed_length_max);
    used_ += write_fixed(room_.data() + used_, value, decimals, decimal);
  }

private:
  void make_room(std::size_t bytes) {
    if (room_.size() - used_ < bytes) hand_over();
  }
  void hand_over() {
    if (used_ == 0) return; // also tells g++ that nothing uninitialised is read
    out_.append(room_.data(), used_);
    used_ = 0;
  }

  std::string& out_;
  std::size_t used_ = 0;
  std::array<char, 4096> room_; // not initialised: only what was written is read
};

} // namespace oxherd::daemon::logfile
