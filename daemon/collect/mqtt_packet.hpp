#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <tl/expected.hpp>

// The part of MQTT 5.0 that a subscriber needs. Of our own because the client libraries acknowledge a message before
// or when their callback returns; here it is acknowledged once the database has it. Pure.
// @source  MQTT Version 5.0, OASIS Standard, 7 March 2019
namespace oxherd::daemon::collect {

struct ConnectRequest {
  std::string client_id;
  std::optional<std::string> user, password;
  std::uint16_t keep_alive_s = 30;
  std::uint32_t session_kept_s = 0;         ///< by the broker, after the connection; 0xFFFFFFFF: for ever
  std::uint16_t unacknowledged_most = 1000; ///< messages that the broker may send ahead ("Receive Maximum")
  std::uint32_t packet_max_bytes = 1 << 20; ///< the broker sends no larger ones
};
[[nodiscard]] std::string connect_packet(const ConnectRequest& request);
/// All with QoS 1. Retained messages come at each subscription.
[[nodiscard]] std::string subscribe_packet(std::uint16_t id, std::span<const std::string> filters);
/// One PUBACK for each, behind each other.
[[nodiscard]] std::string puback_packets(std::span<const std::uint16_t> ids);
[[nodiscard]] std::string pingreq_packet();
[[nodiscard]] std::string disconnect_packet(); ///< the broker keeps the session as long as was asked for

struct ConnectAnswer {
  bool session_present = false;
  int reason = 0;                            ///< 0: welcome
  std::optional<std::uint16_t> keep_alive_s; ///< what the broker wants instead
};
struct SubscribeAnswer {
  std::uint16_t id = 0;
  std::vector<int> reasons; ///< 0x80 and above: refused
};
struct PublishedMessage {
  std::string topic, payload;
  std::uint16_t id = 0;  ///< to be acknowledged; 0: it is not (QoS 0)
  bool retained = false; ///< what stood before this subscription
};
struct PingAnswer {};
struct Goodbye {
  int reason = 0;
};
using ReceivedPacket = std::variant<ConnectAnswer, SubscribeAnswer, PublishedMessage, PingAnswer, Goodbye>;

struct Decoded {
  std::size_t used = 0; ///< bytes at the front
  ReceivedPacket packet;
};

/// The first packet of what has come so far; empty: not all of it is there yet. The error says what breaks the
/// protocol; the connection is of no more use then.
[[nodiscard]] tl::expected<std::optional<Decoded>, std::string> decode_packet(std::string_view bytes,
                                                                              std::size_t packet_max_bytes);

/// What a reason of a refusal or a goodbye means, and what to do.
[[nodiscard]] std::string words_of_reason(int reason);

} // namespace oxherd::daemon::collect
