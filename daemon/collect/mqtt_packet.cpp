#include "daemon/collect/mqtt_packet.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::daemon::collect {
namespace {

// MQTT 5.0, table 2-1: the upper four bits of the first byte.
namespace type {
constexpr unsigned connect = 1, connack = 2, publish = 3, puback = 4, subscribe = 8, suback = 9, pingresp = 13,
                   disconnect = 14;
}
// Table 2-4.
constexpr unsigned session_expiry_interval = 0x11, server_keep_alive = 0x13, receive_maximum = 0x21,
                   maximum_packet_size = 0x27;

void put_byte(std::string& out, unsigned value) { out.push_back(static_cast<char>(value & 0xFF)); }
void put_two(std::string& out, unsigned value) {
  put_byte(out, value >> 8);
  put_byte(out, value);
}
void put_four(std::string& out, std::uint32_t value) {
  put_two(out, value >> 16);
  put_two(out, value);
}
/// Section 1.5.5: seven bits a byte, the lowest first.
void put_length(std::string& out, std::size_t value) {
  do {
    const auto low = static_cast<unsigned>(value % 128);
    value /= 128;
    put_byte(out, low | (value > 0 ? 128U : 0U));
  } while (value > 0);
}
void put_text(std::string& out, std::string_view text) {
  const auto kept = text.substr(0, 65535);
  put_two(out, static_cast<unsigned>(kept.size()));
  out += kept;
}
std::string packet(unsigned first_byte, const std::string& rest) {
  std::string out;
  put_byte(out, first_byte);
  put_length(out, rest.size());
  return out + rest;
}

/// Takes bytes from the front; once something was missing, everything that follows is zero and `broken` tells.
class Bytes {
public:
  explicit Bytes(std::string_view bytes) : rest_{bytes} {}
  unsigned byte() {
    const auto one = take(1);
    return one.empty() ? 0 : static_cast<unsigned char>(one[0]);
  }
  unsigned two() {
    const unsigned high = byte();
    return high << 8 | byte();
  }
  std::string_view text() { return take(two()); }
  std::size_t length() {
    std::size_t value = 0;
    for (unsigned shift = 0; shift < 28; shift += 7) {
      const unsigned one = byte();
      value |= std::size_t{one & 127} << shift;
      if (one < 128) return value;
    }
    broken_ = true;
    return 0;
  }
  std::string_view take(std::size_t count) {
    if (count > rest_.size()) {
      broken_ = true;
      rest_ = {};
      return {};
    }
    const auto front = rest_.substr(0, count);
    rest_.remove_prefix(count);
    return front;
  }
  [[nodiscard]] std::string_view rest() const { return rest_; }
  [[nodiscard]] bool broken() const { return broken_; }

private:
  std::string_view rest_;
  bool broken_ = false;
};

/// Section 2.2.2.2: how many bytes the value of a property takes. Unknown ones cannot be passed over.
bool skip_property(Bytes& in, unsigned identifier) {
  switch (identifier) {
  case 0x01:
  case 0x17:
  case 0x19:
  case 0x24:
  case 0x25:
  case 0x28:
  case 0x29:
  case 0x2A: in.take(1); return true;
  case 0x13:
  case 0x21:
  case 0x22:
  case 0x23: in.take(2); return true;
  case 0x02:
  case 0x11:
  case 0x18:
  case 0x27: in.take(4); return true;
  case 0x0B: static_cast<void>(in.length()); return true;
  case 0x03:
  case 0x08:
  case 0x09:
  case 0x12:
  case 0x15:
  case 0x16:
  case 0x1A:
  case 0x1C:
  case 0x1F: in.text(); return true;
  case 0x26:
    in.text();
    in.text();
    return true;
  default: return false;
  }
}

bool skip_properties(Bytes& in) {
  Bytes properties{in.take(in.length())};
  while (!properties.rest().empty() && !properties.broken())
    if (!skip_property(properties, properties.byte())) return false;
  return !properties.broken() && !in.broken();
}

using Read = tl::expected<ReceivedPacket, std::string>;

Read broken(std::string_view what) { return tl::unexpected(fmt::format("the broker sent a broken {}", what)); }

Read read_connack(Bytes in) {
  ConnectAnswer answer;
  answer.session_present = (in.byte() & 1) != 0;
  answer.reason = static_cast<int>(in.byte());
  if (in.rest().empty() && !in.broken()) return answer; // as a broker of MQTT 3.1.1 answers
  Bytes properties{in.take(in.length())};
  while (!properties.rest().empty() && !properties.broken()) {
    const unsigned identifier = properties.byte();
    if (identifier == server_keep_alive)
      answer.keep_alive_s = static_cast<std::uint16_t>(properties.two());
    else if (!skip_property(properties, identifier))
      return broken("CONNACK");
  }
  if (in.broken() || properties.broken()) return broken("CONNACK");
  return answer;
}

Read read_suback(Bytes in) {
  SubscribeAnswer answer;
  answer.id = static_cast<std::uint16_t>(in.two());
  if (!skip_properties(in)) return broken("SUBACK");
  for (const char reason : in.rest()) answer.reasons.push_back(static_cast<unsigned char>(reason));
  return answer;
}

Read read_publish(unsigned flags, Bytes in) {
  PublishedMessage message;
  const unsigned qos = flags >> 1 & 3;
  message.retained = (flags & 1) != 0;
  message.topic = in.text();
  if (qos > 0) message.id = static_cast<std::uint16_t>(in.two());
  // No alias for topics was offered, and QoS 1 is the most that was asked for.
  if (qos > 1 || (qos == 1 && message.id == 0) || message.topic.empty() || !skip_properties(in))
    return broken("PUBLISH");
  message.payload = in.rest();
  return message;
}

Read read_packet(unsigned first, std::string_view body) {
  Bytes in{body};
  switch (first >> 4) {
  case type::connack: return read_connack(in);
  case type::suback: return read_suback(in);
  case type::publish: return read_publish(first & 15, in);
  case type::pingresp: return PingAnswer{};
  case type::disconnect: return Goodbye{body.empty() ? 0 : static_cast<int>(in.byte())};
  default:
    return tl::unexpected(fmt::format("the broker sent a packet of type {}, which no subscriber gets", first >> 4));
  }
}

} // namespace

std::string connect_packet(const ConnectRequest& request) {
  std::string rest;
  put_text(rest, "MQTT");
  put_byte(rest, 5);
  put_byte(rest, (request.user ? 0x80U : 0U) | (request.password ? 0x40U : 0U)); // no clean start, no will
  put_two(rest, request.keep_alive_s);
  std::string properties;
  put_byte(properties, session_expiry_interval);
  put_four(properties, request.session_kept_s);
  put_byte(properties, receive_maximum);
  put_two(properties, request.unacknowledged_most);
  put_byte(properties, maximum_packet_size);
  put_four(properties, request.packet_max_bytes);
  put_length(rest, properties.size());
  rest += properties;
  put_text(rest, request.client_id);
  if (request.user) put_text(rest, *request.user);
  if (request.password) put_text(rest, *request.password);
  return packet(type::connect << 4, rest);
}

std::string subscribe_packet(std::uint16_t id, std::span<const std::string> filters) {
  std::string rest;
  put_two(rest, id);
  put_length(rest, 0);
  for (const auto& filter : filters) {
    put_text(rest, filter);
    put_byte(rest, 1); // QoS 1; retained messages at once, without the mark once they are live (3.8.3.1)
  }
  return packet(type::subscribe << 4 | 2, rest);
}

std::string puback_packets(std::span<const std::uint16_t> ids) {
  std::string out;
  out.reserve(ids.size() * 4);
  for (const auto id : ids) {
    put_byte(out, type::puback << 4);
    put_byte(out, 2);
    put_two(out, id);
  }
  return out;
}

std::string pingreq_packet() { return {static_cast<char>(0xC0), '\0'}; }
std::string disconnect_packet() { return {static_cast<char>(0xE0), '\0'}; }

tl::expected<std::optional<Decoded>, std::string> decode_packet(std::string_view bytes, std::size_t packet_max_bytes) {
  std::size_t head = 1, length = 0;
  for (unsigned shift = 0;; shift += 7, ++head) {
    if (shift == 28) return tl::unexpected(std::string{"the broker sent a length that is none"});
    if (head >= bytes.size()) return std::nullopt;
    const auto one = static_cast<unsigned char>(bytes[head]);
    length |= std::size_t{one & 127U} << shift;
    if (one < 128) break;
  }
  ++head;
  if (length > packet_max_bytes)
    return tl::unexpected(
        fmt::format("the broker sent a packet of {} bytes, {} are allowed", length, packet_max_bytes));
  if (bytes.size() < head + length) return std::nullopt;
  auto read = read_packet(static_cast<unsigned char>(bytes[0]), bytes.substr(head, length));
  if (!read) return tl::unexpected(std::move(read.error()));
  return Decoded{head + length, std::move(*read)};
}

std::string words_of_reason(int reason) {
  switch (reason) { // MQTT 5.0, table 2-6; 1 to 5: MQTT 3.1.1, table 3.1
  case 0x01:
  case 0x84: return "the broker does not speak MQTT 5, which keeps messages for whoever is away";
  case 0x02:
  case 0x85: return "the broker refuses this client identifier; give another one in broker.client_id";
  case 0x03:
  case 0x88: return "the broker says that it is not available at present";
  case 0x04:
  case 0x86: return "the broker refuses the user name or the password";
  case 0x05:
  case 0x87: return "the broker does not permit this client; check broker.user and broker.password_file";
  case 0x8E:
    return "another client has taken over this session: is a second `oxherd collect` running with the same client_id?";
  case 0x8B: return "the broker is shutting down";
  case 0x8D: return "the broker missed a sign of life";
  case 0x93: return "the broker says that more was acknowledged late than was agreed";
  case 0x95: return "the broker says that a packet is too large";
  default: return fmt::format("the broker gives the reason 0x{:02X}", reason);
  }
}

} // namespace oxherd::daemon::collect
