#include "demo/larkfield.hpp"

#include <unistd.h>

#include <cerrno>
#include <filesystem>
#include <fstream>
#include <memory>
#include <thread>

#include <gtest/gtest.h>
#include <modbus.h>

namespace oxherd::demo::larkfield_test {

using namespace std::chrono_literals;

struct Free {
  void operator()(modbus_t* context) const {
    modbus_close(context);
    modbus_free(context);
  }
};
using Client = std::unique_ptr<modbus_t, Free>;

/// The site with its physics all but standing still, served by a thread of its own.
class ServedSite : public ::testing::Test {
protected:
  void SetUp() override {
    folder_ = std::filesystem::temp_directory_path() / ("oxherd-larkfield-test-" + std::to_string(getpid()));
    options_.tcp_port = 0;
    options_.speed = 1e-3; // the first step of a second is a quarter of an hour away
    options_.seed = 11;
    options_.rtu_link = (folder_ / "line" / "stores").string();
    options_.truth = (folder_ / "truth.jsonl").string();
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override {
    server_ = {}; // stops and joins
    larkfield_.reset();
    std::filesystem::remove_all(folder_);
  }
  void serve() {
    larkfield_ = std::make_unique<Larkfield>(options_);
    port_ = larkfield_->port();
    server_ = std::jthread{[this](const std::stop_token& stop) {
      while (!stop.stop_requested()) larkfield_->round(5ms);
    }};
  }
  [[nodiscard]] Client tcp_client() const {
    Client client{modbus_new_tcp("127.0.0.1", port_)};
    EXPECT_EQ(modbus_connect(client.get()), 0) << modbus_strerror(errno);
    EXPECT_EQ(modbus_set_response_timeout(client.get(), 5, 0), 0);
    return client;
  }
  static std::vector<std::uint16_t> read_input(modbus_t* client, int unit, int count) {
    std::vector<std::uint16_t> words(static_cast<std::size_t>(count));
    modbus_set_slave(client, unit);
    const int got = modbus_read_input_registers(client, 0, count, words.data());
    EXPECT_EQ(got, count) << "unit " << unit << ": " << modbus_strerror(errno);
    return words;
  }

  std::filesystem::path folder_;
  LarkfieldOptions options_;
  std::unique_ptr<Larkfield> larkfield_;
  std::uint16_t port_ = 0;
  std::jthread server_;
};

TEST_F(ServedSite, GivesEveryPlantUnitItsOwnDataOverTcp) {
  serve();
  const Site same{options_.seed};
  const Client client = tcp_client();
  for (const auto& device : device_facts()) {
    if (device.line != Line::plant || device.kind == DeviceKind::outputs || is_contact(device.kind)) continue;
    const auto expected = same.input_registers(device.name);
    EXPECT_EQ(read_input(client.get(), device.unit, static_cast<int>(expected.size())), expected) << device.name;
  }
}

TEST_F(ServedSite, GivesEveryStoresUnitItsOwnDataOnTheSerialLine) {
  serve();
  const Site same{options_.seed};
  const Client client{modbus_new_rtu(options_.rtu_link->c_str(), 19200, 'N', 8, 1)};
  modbus_set_slave(client.get(), 1);
  ASSERT_EQ(modbus_connect(client.get()), 0) << modbus_strerror(errno);
  modbus_set_response_timeout(client.get(), 5, 0);
  for (const auto& device : device_facts()) {
    if (device.line != Line::stores || device.kind == DeviceKind::outputs || is_contact(device.kind)) continue;
    const auto expected = same.input_registers(device.name);
    EXPECT_EQ(read_input(client.get(), device.unit, static_cast<int>(expected.size())), expected) << device.name;
  }
  std::uint8_t closed = 9;
  modbus_set_slave(client.get(), 5);
  EXPECT_EQ(modbus_read_input_bits(client.get(), 0, 1, &closed), 1) << modbus_strerror(errno);
  EXPECT_EQ(closed, 1) << "the door of pear-store-2";
}

TEST_F(ServedSite, ServesTheSerialLineAgainAfterAClientHasClosedIt) {
  serve();
  for (int round = 0; round < 3; ++round) {
    const Client client{modbus_new_rtu(options_.rtu_link->c_str(), 19200, 'N', 8, 1)};
    modbus_set_slave(client.get(), 1);
    ASSERT_EQ(modbus_connect(client.get()), 0) << modbus_strerror(errno);
    modbus_set_response_timeout(client.get(), 5, 0);
    EXPECT_EQ(read_input(client.get(), 1, 3).size(), 3u);
  }
}

TEST_F(ServedSite, ServesSeveralClientsAtOnce) {
  serve();
  std::vector<Client> clients;
  for (int i = 0; i < 8; ++i) clients.push_back(tcp_client());
  const auto expected = Site{options_.seed}.input_registers("cryo-annexe/air");
  for (const auto& client : clients) EXPECT_EQ(read_input(client.get(), 21, 3), expected);
}

TEST_F(ServedSite, ShowsWrittenRelaysToEveryClientAndInTheTruth) {
  serve();
  const Client writer = tcp_client();
  modbus_set_slave(writer.get(), 31);
  ASSERT_EQ(modbus_write_bit(writer.get(), 1, 1), 1) << modbus_strerror(errno);
  ASSERT_EQ(modbus_write_register(writer.get(), 10, 777), 1) << modbus_strerror(errno);
  const Client reader = tcp_client();
  modbus_set_slave(reader.get(), 31);
  std::uint8_t coils[2] = {};
  ASSERT_EQ(modbus_read_bits(reader.get(), 0, 2, coils), 2);
  EXPECT_EQ(coils[0], 0);
  EXPECT_EQ(coils[1], 1);

  server_ = {};
  larkfield_.reset();
  std::ifstream truth{*options_.truth};
  std::string all{std::istreambuf_iterator<char>{truth}, {}};
  EXPECT_NE(all.find("\"coils\":[false,true,false"), std::string::npos) << all;
}

TEST_F(ServedSite, TakesOverARoomByACoilOnTheSerialLineAndSaysSoInTheTruth) {
  serve();
  {
    const Client client{modbus_new_rtu(options_.rtu_link->c_str(), 19200, 'N', 8, 1)};
    modbus_set_slave(client.get(), 6);
    ASSERT_EQ(modbus_connect(client.get()), 0) << modbus_strerror(errno);
    modbus_set_response_timeout(client.get(), 5, 0);
    ASSERT_EQ(modbus_write_bit(client.get(), 1, 1), 1) << modbus_strerror(errno);
    std::uint8_t closed = 0;
    modbus_set_slave(client.get(), 8);
    ASSERT_EQ(modbus_read_input_bits(client.get(), 0, 1, &closed), 1) << modbus_strerror(errno);
    EXPECT_EQ(closed, 1) << "nothing isolates the relief valve";
  }
  server_ = {};
  ASSERT_TRUE(larkfield_->site().room("pear-store-2")->plant());
  EXPECT_FALSE(larkfield_->site().room("pear-store-2")->plant()->fresh_air_open);
  const std::string line = truth_line(larkfield_->site(), OutputModule{}, WallTime{});
  EXPECT_NE(line.find(R"("taken_over":true)"), std::string::npos) << line;
}

TEST_F(ServedSite, LeavesASilentUnitSilentAndItsNeighbourSpeaking) {
  options_.story = parse_story("00:00:00 fault growth-chamber-1/cell silent").value();
  serve();
  {
    const Client client = tcp_client();
    modbus_set_response_timeout(client.get(), 0, 200000);
    modbus_set_slave(client.get(), 41);
    std::uint16_t words[3];
    EXPECT_EQ(modbus_read_input_registers(client.get(), 0, 3, words), -1);
    EXPECT_EQ(errno, ETIMEDOUT);
  }
  EXPECT_EQ(read_input(tcp_client().get(), 42, 3).size(), 3u);
}

TEST_F(ServedSite, GivesTheExceptionOfARefusingUnit) {
  options_.story = parse_story("00:00:00 fault growth-chamber-1/co2 refusing").value();
  serve();
  const Client client = tcp_client();
  modbus_set_slave(client.get(), 43);
  std::uint16_t word = 0;
  EXPECT_EQ(modbus_read_input_registers(client.get(), 0, 1, &word), -1);
  EXPECT_EQ(errno, EMBXSFAIL); // exception 04, server device failure
}

TEST_F(ServedSite, DoesAtOnceWhatIsWrittenToItsPipeAndTakesThePipeAwayWhenItStops) {
  options_.orders = (folder_ / "orders").string();
  Larkfield larkfield{options_};
  const auto tell = [&](const std::string& text) { std::ofstream{*options_.orders} << text << std::flush; };
  tell("gas cryo-annexe/cell-a 0\nfault cryo-annexe/cell-b de");
  EXPECT_EQ(larkfield.round(0ms), std::vector<std::string>{"[order] gas cryo-annexe/cell-a 0"});
  tell("ad\nleak attic 1\n" + std::string(1500, 'x') + "\n");
  EXPECT_EQ(larkfield.round(0ms),
            (std::vector<std::string>{"[order] fault cryo-annexe/cell-b dead",
                                      "[order] not done: leak attic 1: no room is called \"attic\""}));
  EXPECT_EQ(larkfield.site().fault_of("cryo-annexe/cell-b"), Fault::dead);
  options_.tcp_port = 0;
  options_.rtu_link.reset();
  { const Larkfield other{options_}; } // takes the place of a pipe that was left, and its own away
  EXPECT_FALSE(std::filesystem::exists(*options_.orders));
  std::ofstream{*options_.orders} << "a file of somebody's";
  EXPECT_THROW(Larkfield{options_}, std::runtime_error);
}

TEST_F(ServedSite, TakesItsLinkAwayWhenItStops) {
  serve();
  EXPECT_TRUE(std::filesystem::is_symlink(*options_.rtu_link));
  server_ = {};
  larkfield_.reset();
  EXPECT_FALSE(std::filesystem::exists(std::filesystem::symlink_status(*options_.rtu_link)));
}

TEST_F(ServedSite, RefusesToReplaceAFileByItsLink) {
  options_.rtu_link = (folder_ / "precious").string();
  std::ofstream{*options_.rtu_link} << "keep me";
  EXPECT_THROW(serve(), std::runtime_error);
  EXPECT_TRUE(std::filesystem::is_regular_file(*options_.rtu_link));
}

TEST_F(ServedSite, SaysWhenItsPortIsTaken) {
  serve();
  Site site{1};
  Devices devices{site};
  try {
    const TcpServer second{devices, port_};
    FAIL() << "a second server took the same port";
  } catch (const std::runtime_error& problem) {
    EXPECT_NE(std::string{problem.what()}.find(std::to_string(port_)), std::string::npos);
  }
}

TEST(TruthLine, HoldsTheTruthAsJson) {
  Site site{1};
  ASSERT_TRUE(site.apply({.verb = Verb::fault, .target = "cryo-annexe/cell-b", .fault = Fault::dead}));
  site.advance(2500ms);
  OutputModule outputs;
  outputs.write_register(10, 42, 0ms);
  const std::string line = truth_line(site, outputs, WallTime{1000ms * 1609459200LL + 7ms}); // 2021-01-01
  EXPECT_EQ(line.find(R"({"simulated":2.500,"wall":"2021-01-01T00:00:00.007Z","wall_ms":1609459200007,"pressure":)"),
            0u);
  EXPECT_NE(line.find(R"("rooms":{"cryo-annexe":{"oxygen":0.20)"), std::string::npos) << line;
  EXPECT_NE(line.find(R"("faults":{"cryo-annexe/cell-b":"dead"})"), std::string::npos) << line;
  EXPECT_NE(line.find(R"("heartbeat":42})"), std::string::npos) << line;
  EXPECT_EQ(line.find('\n'), std::string::npos);
}

} // namespace oxherd::demo::larkfield_test
