#include <unistd.h>

#include "tests/drivers/agreement.hpp"
#include "tests/drivers/child_process.hpp"

namespace oxherd::foreign_server_test {

using namespace drivers;
using namespace drivers_test;
using namespace std::chrono_literals;

const std::string server = OXHERD_SOURCE_DIR "/tests/drivers/pymodbus_server.py";
const std::string what_to_install = "install the servers: apt-get install python3-pymodbus python3-serial-asyncio "
                                    "python3-serial socat\n";

TEST(ForeignServer, AgreesOverTcp) {
  ChildProcess pymodbus{{"/usr/bin/python3", server, "tcp"}};
  const std::string ready = pymodbus.wait_for_line("ready");
  ASSERT_FALSE(ready.empty()) << what_to_install << pymodbus.output();
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = std::stoi(ready.substr(6))});
  expect_agreement(*bus, 11);
  EXPECT_EQ(error_outside(*bus, 11).exception_code, 2);
  const auto missing = bus->read(12, {Table::holding_register, 0, 1}, 50ms);
  ASSERT_FALSE(missing) << "unit 12 does not exist";
  EXPECT_EQ(missing.error().fault, BusFault::timeout) << "this server keeps silent for a unit it does not have";
  EXPECT_TRUE(bus->read(11, {Table::holding_register, 0, 1}, 1000ms));
}

TEST(ForeignServer, AgreesOverASerialLine) {
  ChildProcess socat{{"socat", "-d", "-d", "pty,raw,echo=0", "pty,raw,echo=0"}};
  const auto device_in = [](const std::string& line) {
    const auto at = line.find("/dev/");
    return at == std::string::npos ? std::string{} : line.substr(at);
  };
  const std::string ours = device_in(socat.wait_for_line("PTY is"));
  const std::string theirs = device_in(socat.wait_for_line("PTY is"));
  ASSERT_FALSE(socat.wait_for_line("starting data transfer").empty()) << what_to_install << socat.output();
  ChildProcess pymodbus{{"/usr/bin/python3", server, "rtu", theirs}};
  ASSERT_FALSE(pymodbus.wait_for_line("ready").empty()) << what_to_install << pymodbus.output();
  const auto bus = make_bus(SerialLine{.device = ours, .baud = 115200, .parity = Parity::none});
  expect_agreement(*bus, 11);
  EXPECT_EQ(error_outside(*bus, 11).exception_code, 2);
}

} // namespace oxherd::foreign_server_test
