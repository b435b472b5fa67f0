#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/host_port.hpp"
#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using drivers::Parity;

enum class BusKind { tcp, rtu };
constexpr std::array<Choice<BusKind>, 2> bus_kinds{{{"modbus-tcp", BusKind::tcp}, {"modbus-rtu", BusKind::rtu}}};
constexpr std::array<Choice<Parity>, 3> parities{
    {{"even", Parity::even}, {"none", Parity::none}, {"odd", Parity::odd}}};
constexpr std::array<std::string_view, 3> tcp_keys{"address", "connect_timeout", "requests_at_once"};
constexpr std::array<std::string_view, 5> rtu_keys{"device", "baud", "parity", "stop_bits", "rs485"};
constexpr std::array<int, 9> baud_rates{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400};

constexpr QuantityRule back_off_span{Dimension::duration, 1.0, 600.0, "1 s to 10 min"};
constexpr IntegerRule any_integer{-1'000'000'000, 1'000'000'000};

drivers::TcpAddress read_tcp(TableReader& in) {
  drivers::TcpAddress tcp;
  in.require("address", "\"192.168.1.20:502\"");
  if (const auto text = in.text("address")) {
    const auto address = host_and_port(*text, 502); // the port registered for Modbus with IANA
    if (address) {
      tcp.host = address->host;
      tcp.port = address->port;
    } else
      in.error("address", address.error());
  }
  tcp.connect_timeout = in.duration("connect_timeout", reply_timeout).value_or(tcp.connect_timeout);
  tcp.requests_at_once = in.integer("requests_at_once", {1, drivers::transactions_max}).value_or(tcp.requests_at_once);
  return tcp;
}

drivers::SerialLine read_serial(TableReader& in) {
  drivers::SerialLine line;
  in.require("device", "\"/dev/ttyUSB0\"");
  line.device = in.text("device").value_or("");
  if (!line.device.empty() && !line.device.starts_with('/'))
    in.error("device", fmt::format("\"{}\" is not the full path of a device, such as \"/dev/ttyUSB0\"", line.device));
  if (const auto baud = in.integer("baud", any_integer)) {
    line.baud = *baud;
    if (std::find(baud_rates.begin(), baud_rates.end(), *baud) == baud_rates.end())
      in.error("baud", fmt::format("{} is no standard rate; use 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200 or "
                                   "230400",
                                   *baud));
  }
  line.parity = in.choice("parity", parities).value_or(line.parity);
  line.stop_bits = in.integer("stop_bits", {1, 2}).value_or(line.stop_bits);
  line.rs485 = in.boolean("rs485").value_or(line.rs485);
  return line;
}

} // namespace

void read_limits(TableReader& in, drivers::ReadLimits& limits) {
  limits.gap_max = in.integer("gap_max", gap_length).value_or(limits.gap_max);
  limits.length_max = in.integer("length_max", request_length).value_or(limits.length_max);
}

Bus read_bus(const std::string& name, TableReader in) {
  Bus bus;
  bus.name = name;
  in.require("kind", "\"modbus-tcp\"");
  const auto kind = in.choice("kind", bus_kinds);
  if (kind == BusKind::tcp) bus.address = read_tcp(in);
  if (kind == BusKind::rtu) bus.address = read_serial(in);
  for (const auto key : tcp_keys)
    if (in.has(key) && kind == BusKind::rtu) in.error(key, "belongs to a bus of kind \"modbus-tcp\"");
  for (const auto key : rtu_keys)
    if (in.has(key) && kind == BusKind::tcp) in.error(key, "belongs to a bus of kind \"modbus-rtu\"");
  bus.timeout = in.duration("timeout", reply_timeout).value_or(bus.timeout);
  bus.retries = in.integer("retries", retry_count).value_or(bus.retries);
  bus.back_off_max = in.duration("back_off_max", back_off_span).value_or(bus.back_off_max);
  read_limits(in, bus.limits);
  in.finish();
  return bus;
}

const Bus* find_bus(TableReader& in, std::string_view key, const std::vector<Bus>& buses) {
  in.require(key, buses.empty() ? "\"plant\"" : fmt::format("\"{}\"", buses.front().name));
  const auto name = in.text(key);
  if (!name) return nullptr;
  const auto found = std::find_if(buses.begin(), buses.end(), [&](const Bus& b) { return b.name == *name; });
  if (found != buses.end()) return &*found;
  std::vector<std::string> names;
  for (const auto& bus : buses) names.push_back(bus.name);
  in.error(key, names.empty()
                    ? fmt::format("there is no bus \"{}\"; describe it in [bus.{}]", *name, *name)
                    : fmt::format("there is no bus \"{}\"; there is {}", *name, listed_nearest_first(*name, names)));
  return nullptr;
}

int read_unit(TableReader& in, const Bus* bus) {
  in.require("unit", "1");
  const auto unit = in.integer("unit", {0, 255});
  if (!unit) return 1;
  // Modbus over Serial Line V1.02, 2.2: 0 is the broadcast, 248 to 255 are reserved. On TCP, 0 and 255 are used by
  // devices that are no gateway (Modbus Messaging on TCP/IP V1.0b, 4.4.2.1).
  const bool serial = bus != nullptr && std::holds_alternative<drivers::SerialLine>(bus->address);
  if (serial && (*unit < 1 || *unit > 247)) in.error("unit", fmt::format("{} is outside 1 to 247", *unit));
  if (!serial && *unit > 247 && *unit != 255)
    in.error("unit", fmt::format("{} is reserved; use 0 to 247, or 255", *unit));
  return *unit;
}

} // namespace oxherd::config
