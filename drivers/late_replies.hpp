#pragma once

#include <optional>
#include <vector>

#include "drivers/modbus_request.hpp"
#include "drivers/waiting.hpp"

namespace oxherd::drivers {

/// Which unanswered requests of a serial line could still be answered. RTU replies carry no transaction number: a late
/// reply to a request of the same shape looks exactly like the reply to the next one. But a device answers in order, so
/// a reply whose length none of the late ones can have proves that they are over.
class LateReplies {
public:
  void expect(int unit, const ModbusRequest& request, Deadline until);
  void forget(int unit);
  [[nodiscard]] bool possible(int unit, Deadline now);
  /// A read whose reply cannot be mistaken for a late one of this unit: the request itself if that is so already, else
  /// one of the same table and address with another count. Empty when every length is taken.
  [[nodiscard]] std::optional<ModbusRequest> telling_question(int unit, const ModbusRequest& request) const;

private:
  struct Late {
    int unit;
    ModbusRequest request;
    Deadline until;
  };
  [[nodiscard]] bool could_be_late(int unit, const ModbusRequest& read) const;
  std::vector<Late> late_; ///< one per unit, function and length, so a few hundred at most
};

} // namespace oxherd::drivers
