#include <filesystem>
#include <iostream>

#include "tests/drivers/agreement.hpp"
#include "tests/drivers/child_process.hpp"

// A program of its own, because its servers are installed apart: tests/system/modbus_peers/install.
namespace oxherd::npm_peers {

using namespace drivers;
using namespace drivers_test;

const std::filesystem::path folder = OXHERD_SOURCE_DIR "/tests/system/modbus_peers";

TEST(ModbusSerial, AgreesOverTcp) {
  ChildProcess node{{"node", folder / "server.js", "modbus-serial"}};
  const std::string ready = node.wait_for_line("ready");
  ASSERT_FALSE(ready.empty()) << node.output();
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = std::stoi(ready.substr(6))});
  expect_agreement(*bus, 11);
  EXPECT_EQ(error_outside(*bus, 11).exception_code, 2);
}

TEST(Jsmodbus, AgreesOverTcp) {
  ChildProcess node{{"node", folder / "server.js", "jsmodbus"}};
  const std::string ready = node.wait_for_line("ready");
  ASSERT_FALSE(ready.empty()) << node.output();
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = std::stoi(ready.substr(6))});
  expect_agreement(*bus, 11);
  // This server knows no exception here: it answers with no data at all, which must not pass for a reply.
  EXPECT_EQ(error_outside(*bus, 11).fault, BusFault::garbled);
  EXPECT_TRUE(bus->read(11, {Table::holding_register, 0, 1}, std::chrono::milliseconds{1000}));
}

} // namespace oxherd::npm_peers

int main(int argc, char** argv) {
  testing::InitGoogleTest(&argc, argv);
  if (!std::filesystem::exists(oxherd::npm_peers::folder / "node_modules")) {
    std::cout << "not installed: run tests/system/modbus_peers/install\n";
    return 77; // counted as skipped
  }
  return RUN_ALL_TESTS();
}
