#include <algorithm>
#include <array>
#include <cstdlib>

#include "drivers/modbus_request.hpp"
#include "drivers/tcp_frame.hpp"
#include "drivers/tcp_replies.hpp"

// Any bytes in place of a reply to any request: either they are refused, or they are the reply to that very request.

namespace {

using namespace oxherd::drivers;

void require(bool promise) {
  if (!promise) std::abort();
}

ModbusRequest request_from(const std::uint8_t* data) {
  const auto address = static_cast<std::uint16_t>(data[1] * 256 + data[2]);
  const auto argument = static_cast<std::uint16_t>(data[3] * 256 + data[4]);
  switch (data[0] % 6) {
  case 4: return coil_request(address, argument % 2 != 0);
  case 5: return register_request(address, argument);
  default: break;
  }
  constexpr std::array tables{Table::coil, Table::discrete_input, Table::input_register, Table::holding_register};
  const Span span{tables[data[0] % 6], address, argument};
  return read_request(why_impossible(span) ? Span{tables[data[0] % 6], 0, 1} : span);
}

void check_pdu(const ModbusRequest& request, std::span<const std::uint8_t> pdu) {
  const ModbusReply reply = check_reply(request, pdu);
  if (!reply) {
    const BusFault fault = reply.error().fault;
    require(fault == BusFault::exception || fault == BusFault::garbled);
    require(!reply.error().detail.empty());
    if (fault == BusFault::exception) require(pdu.size() == 2 && pdu[0] == request.function + 0x80);
    return;
  }
  require(pdu[0] == request.function);
  if (is_write(request)) {
    const auto sent = echo_of(request);
    require(reply->empty() && std::equal(pdu.begin(), pdu.end(), sent.begin(), sent.end()));
  } else {
    require(reply->size() == request.argument && pdu.size() == reply_bytes(request) + 2);
  }
}

/// Among several that are on their way: what is taken was waited for, and each place is filled by its own reply only.
void check_together(const ModbusRequest& request, TcpExchangeId id, std::span<const std::uint8_t> bytes) {
  const TcpExchangeId other{static_cast<std::uint16_t>(id.transaction + 1), id.unit};
  std::vector<OnItsWay> waiting;
  waiting.push_back({0, id, request});
  waiting.push_back({1, other, read_request({Table::holding_register, 0, 1})});
  const std::size_t before = waiting.size();
  AnswersTogether answers(2);
  const auto taken = take_replies(bytes, waiting, answers);
  if (!taken) return;
  require(*taken <= bytes.size() && (*taken == 0) == (waiting.size() == before));
  require(*taken >= (before - waiting.size()) * (tcp_header_bytes + 2));
  require(!answers[0] || answers[0]->size() == (is_write(request) ? 0U : request.argument));
  require(!answers[1] || answers[1]->size() == 1);
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 8) return 0;
  const ModbusRequest request = request_from(data);
  const TcpExchangeId id{static_cast<std::uint16_t>(data[5] * 256 + data[6]), data[7]};
  const auto bytes = std::span{data, size}.subspan(8);
  check_pdu(request, bytes);
  check_together(request, id, bytes);
  if (bytes.size() < tcp_header_bytes) return 0;
  const auto header = bytes.first<tcp_header_bytes>();
  const auto length = check_tcp_header(id, header);
  if (!length) {
    require(length.error().fault == BusFault::garbled && !length.error().detail.empty());
    return 0;
  }
  require(*length >= 2 && *length <= 253 && header[6] == id.unit);
  if (bytes.size() >= tcp_header_bytes + *length) check_pdu(request, bytes.subspan(tcp_header_bytes, *length));
  return 0;
}
