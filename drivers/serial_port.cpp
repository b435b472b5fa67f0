#include "drivers/serial_port.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdlib>
#include <system_error>

#include <fcntl.h>
#include <fmt/core.h>
#include <sys/file.h>
#include <sys/select.h>
#include <unistd.h>

namespace oxherd::drivers {

namespace {

tl::unexpected<BusError> cannot_open(std::string detail) {
  return tl::unexpected(BusError{BusFault::not_connected, 0, std::move(detail)});
}

std::string why_not_opened(int error) {
  switch (error) {
  case ENOENT:
  case ENXIO:
  case ENODEV: return "there is no such device: is the adapter plugged in?";
  case EACCES:
  case EPERM: return "no permission to use the device: add the service's user to the group dialout";
  default: return "cannot open the device: " + std::generic_category().message(error);
  }
}

char parity_letter(Parity parity) {
  switch (parity) {
  case Parity::none: return 'N';
  case Parity::even: return 'E';
  case Parity::odd: return 'O';
  }
  std::abort(); // not one of the parities: memory is corrupt, stop loudly
}

} // namespace

std::optional<std::string> why_impossible(const SerialLine& line) {
  static constexpr std::array rates{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400};
  if (std::find(rates.begin(), rates.end(), line.baud) == rates.end())
    return fmt::format("{} baud is not a standard rate from 1200 to 230400; write the rate the devices are set to",
                       line.baud);
  if (line.stop_bits != 1 && line.stop_bits != 2)
    return fmt::format("{} stop bits are impossible; write 1 or 2", line.stop_bits);
  return std::nullopt;
}

std::chrono::nanoseconds time_on_the_wire(int baud, int characters) {
  return std::chrono::nanoseconds{characters * 11'000'000'000LL / baud};
}

std::chrono::nanoseconds silence_before_request(int baud) {
  return baud > 19200 ? std::chrono::microseconds{1750} : time_on_the_wire(baud, 7) / 2;
}

void SerialPort::Free::operator()(modbus_t* context) const {
  ::modbus_close(context);
  ::modbus_free(context);
}

tl::expected<SerialPort, BusError> SerialPort::open(const SerialLine& line) {
  // Locked through a descriptor of its own before libmodbus touches the device: connecting sets the baud rate, which
  // would disturb the exchange of whoever is using the line.
  FileDescriptor lock{::open(line.device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)};
  if (!lock.is_open()) return cannot_open(why_not_opened(errno));
  if (::isatty(lock.get()) == 0) return cannot_open("this is not a serial device: correct its path");
  if (::flock(lock.get(), LOCK_EX | LOCK_NB) != 0)
    return cannot_open("the device is in use by another program, or by another bus of this one: a line has one master");
  std::unique_ptr<modbus_t, Free> context{
      ::modbus_new_rtu(line.device.c_str(), line.baud, parity_letter(line.parity), 8, line.stop_bits)};
  if (!context) return cannot_open(why_not_opened(errno));
  if (::modbus_connect(context.get()) != 0) return cannot_open(why_not_opened(errno));
  if (::modbus_get_socket(context.get()) >= FD_SETSIZE) // libmodbus uses select, and the C library would abort
    return cannot_open("too many files are open for this line to be used: lower the number of connected pages");
  if (line.rs485 && ::modbus_rtu_set_serial_mode(context.get(), MODBUS_RTU_RS485) != 0)
    return cannot_open("the device's driver has no RS-485 mode: set rs485 to false if the adapter switches by itself");
  ::modbus_set_error_recovery(context.get(), MODBUS_ERROR_RECOVERY_NONE);
  ::modbus_set_byte_timeout(context.get(), 0, 0);
  return SerialPort{std::move(lock), std::move(context)};
}

bool SerialPort::discard_input() const {
  std::array<unsigned char, 256> rubbish{};
  const auto got = ::read(fd(), rubbish.data(), rubbish.size());
  return got > 0 || (got < 0 && (errno == EAGAIN || errno == EINTR));
}

} // namespace oxherd::drivers
