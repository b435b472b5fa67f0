#include "drivers/catalogue.hpp"

#include <array>

#include "drivers/modbus_rtu_bus.hpp"
#include "drivers/modbus_tcp_bus.hpp"

namespace oxherd::drivers {

namespace {

template <class Bus, class Address> std::unique_ptr<RegisterBus> make_kind(const BusAddress& address) {
  return std::make_unique<Bus>(std::get<Address>(address));
}

constexpr std::array kinds{
    BusKind{"modbus-tcp", "a Modbus TCP server, or a gateway with serial devices behind it",
            make_kind<ModbusTcpBus, TcpAddress>},
    BusKind{"modbus-rtu", "devices on a serial line, RS-485 or RS-232", make_kind<ModbusRtuBus, SerialLine>},
};
static_assert(kinds.size() == std::variant_size_v<BusAddress>, "each kind of address needs its bus");

} // namespace

std::span<const BusKind> bus_kinds() { return kinds; }

std::unique_ptr<RegisterBus> make_bus(const BusAddress& address) { return kinds[address.index()].make(address); }

} // namespace oxherd::drivers
