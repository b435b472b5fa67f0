#include <future>

#include <gtest/gtest.h>
#include <poll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "drivers/register_bus.hpp"
#include "tests/drivers/scripted_peer.hpp"

namespace oxherd::modbus_tcp_bus_test {

using namespace drivers;
using namespace drivers_test;
using namespace std::chrono_literals;

constexpr auto ample = 5000ms; // never reached when all goes well
constexpr auto brief = 60ms;   // for waits that are meant to end without a reply
constexpr Span three{Table::holding_register, 107, 3};

/// A correct reply to a read of `three`-like spans: every register holds `value`.
Step good(std::uint16_t value) {
  return [value](int fd, const Bytes& request) {
    const Bytes pdu = registers_pdu(request[7], request[11], value);
    Bytes reply{request[0], request[1], 0, 0, 0, static_cast<std::uint8_t>(pdu.size() + 1), request[6]};
    reply.insert(reply.end(), pdu.begin(), pdu.end());
    send_all(fd, reply);
    return true;
  };
}

std::unique_ptr<RegisterBus> bus_to(const ScriptedTcpServer& server) {
  return make_bus(TcpAddress{.host = "127.0.0.1", .port = server.port()});
}

std::vector<std::uint16_t> all(std::uint16_t value) { return {value, value, value}; }

/// One bad exchange, and the good one after it.
void expect_fault_then_recovery(Step bad, BusFault fault, std::chrono::milliseconds timeout, const std::string& words) {
  ScriptedTcpServer server{{std::move(bad), good(777)}};
  const auto bus = bus_to(server);
  const auto failed = bus->read(11, three, timeout);
  ASSERT_FALSE(failed);
  EXPECT_EQ(failed.error().fault, fault) << failed.error().detail;
  const std::string place = "modbus-tcp 127.0.0.1:" + std::to_string(server.port()) + ", unit 11: ";
  EXPECT_EQ(failed.error().detail.substr(0, place.size()), place);
  EXPECT_NE(failed.error().detail.find(words), std::string::npos) << failed.error().detail;
  const auto next = bus->read(11, three, ample);
  ASSERT_TRUE(next) << next.error().detail;
  EXPECT_EQ(*next, all(777));
}

// Modbus Application Protocol V1.1b3, 6.1 to 6.6, 6.12 and 7, behind the header of the TCP guide V1.0b, 3.1.3.
TEST(ModbusTcpBus, SendsAndReadsTheSpecificationsFrames) {
  ScriptedTcpServer server{
      {answer(hex("00 01 00 00 00 06 01 01 03 CD 6B 05")), answer(hex("00 02 00 00 00 06 01 02 03 AC DB 35")),
       answer(hex("00 03 00 00 00 09 01 03 06 02 2B 00 00 00 64")), answer(hex("00 04 00 00 00 05 01 04 02 00 0A")),
       answer(hex("00 05 00 00 00 06 01 05 00 AC FF 00")), answer(hex("00 06 00 00 00 06 01 06 00 01 00 03")),
       answer(hex("00 07 00 00 00 06 01 10 00 01 00 02")), answer(hex("00 08 00 00 00 03 01 81 02"))}};
  const auto bus = bus_to(server);
  EXPECT_EQ(bus->read(1, {Table::coil, 19, 19}, ample)->at(2), 1);
  EXPECT_EQ(bus->read(1, {Table::discrete_input, 196, 22}, ample)->at(2), 1);
  EXPECT_EQ(*bus->read(1, {Table::holding_register, 107, 3}, ample), (std::vector<std::uint16_t>{555, 0, 100}));
  EXPECT_EQ(*bus->read(1, {Table::input_register, 8, 1}, ample), (std::vector<std::uint16_t>{10}));
  EXPECT_TRUE(bus->write_coil(1, 172, true, ample));
  EXPECT_TRUE(bus->write_register(1, 1, 3, ample));
  EXPECT_TRUE(bus->write_registers(1, 1, {0x000A, 0x0102}, ample));
  const auto refused = bus->read(1, {Table::coil, 0x04A1, 1}, ample);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().exception_code, 2);
  EXPECT_EQ(server.script().wait_for_requests(8),
            (std::vector{hex("00 01 00 00 00 06 01 01 00 13 00 13"), hex("00 02 00 00 00 06 01 02 00 C4 00 16"),
                         hex("00 03 00 00 00 06 01 03 00 6B 00 03"), hex("00 04 00 00 00 06 01 04 00 08 00 01"),
                         hex("00 05 00 00 00 06 01 05 00 AC FF 00"), hex("00 06 00 00 00 06 01 06 00 01 00 03"),
                         hex("00 07 00 00 00 0B 01 10 00 01 00 02 04 00 0A 01 02"),
                         hex("00 08 00 00 00 06 01 01 04 A1 00 01")}));
  EXPECT_EQ(server.connections(), 1) << "an exception is a reply like any other";
}

TEST(ModbusTcpBus, TakesAReplyThatComesByteByByte) {
  ScriptedTcpServer server{{[](int fd, const Bytes&) {
    for (const std::uint8_t byte : hex("00 01 00 00 00 09 0B 03 06 02 2B 00 00 00 64")) send_all(fd, {byte});
    return true;
  }}};
  EXPECT_EQ(*bus_to(server)->read(11, three, ample), (std::vector<std::uint16_t>{555, 0, 100}));
}

TEST(ModbusTcpBus, CallsSilenceATimeout) {
  expect_fault_then_recovery(stay_silent(), BusFault::timeout, brief, "no reply within 60 ms");
}

TEST(ModbusTcpBus, BoundsTheWholeReplyAndNotEachByte) {
  // A byte every 20 ms keeps a timeout between bytes from ever ending. The peer stops when the client gives up.
  expect_fault_then_recovery(
      [](int fd, const Bytes& request) {
        send_all(fd, {request[0], request[1], 0, 0, 0, 9, request[6]});
        for (const std::uint8_t byte : hex("03 06 00 01 00 01 00 01")) {
          send_all(fd, {byte});
          pollfd client{fd, POLLIN, 0};
          if (::poll(&client, 1, 20) != 0) return false;
        }
        return true;
      },
      BusFault::timeout, brief, "not complete within 60 ms");
}

TEST(ModbusTcpBus, RefusesAnotherUnitsReply) {
  expect_fault_then_recovery(answer(hex("00 01 00 00 00 09 0C 03 06 00 01 00 01 00 01")), BusFault::garbled, ample,
                             "unit 12 answered instead");
}

TEST(ModbusTcpBus, RefusesAnotherTransactionsReply) {
  expect_fault_then_recovery(answer(hex("00 00 00 00 00 09 0B 03 06 00 01 00 01 00 01")), BusFault::garbled, ample,
                             "transaction 0 came instead of 1");
}

TEST(ModbusTcpBus, RefusesBytesThatAreNotModbus) {
  expect_fault_then_recovery(answer(hex("48 54 54 50 2F 31 2E 31 20 34 30 30 0D 0A 0D 0A")), BusFault::garbled, ample,
                             "is this the right port?");
}

TEST(ModbusTcpBus, RefusesAnImpossibleLength) {
  expect_fault_then_recovery(answer(hex("00 01 00 00 00 02 0B 03")), BusFault::garbled, ample, "claims 2 bytes");
  expect_fault_then_recovery(answer(hex("00 01 00 00 00 FF 0B 03")), BusFault::garbled, ample, "claims 255 bytes");
}

TEST(ModbusTcpBus, RefusesAReplyOfAnotherLengthOrFunction) {
  expect_fault_then_recovery(answer(hex("00 01 00 00 00 07 0B 03 04 00 01 00 01")), BusFault::garbled, ample,
                             "4 bytes of data");
  expect_fault_then_recovery(answer(hex("00 01 00 00 00 09 0B 04 06 00 01 00 01 00 01")), BusFault::garbled, ample,
                             "function 04 instead of 03");
}

TEST(ModbusTcpBus, ReportsAConnectionClosedBeforeAndWithinTheReply) {
  expect_fault_then_recovery(hang_up_after({}), BusFault::not_connected, ample, "closed the connection");
  expect_fault_then_recovery(hang_up_after(hex("00 01 00 00 00 09 0B 03 06 00 01")), BusFault::not_connected, ample,
                             "closed the connection");
}

TEST(ModbusTcpBus, KeepsTheConnectionAfterAnException) {
  ScriptedTcpServer server{{answer(hex("00 01 00 00 00 03 0B 83 0B")), good(777)}};
  const auto bus = bus_to(server);
  const auto refused = bus->read(11, three, ample);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().fault, BusFault::exception);
  EXPECT_EQ(refused.error().exception_code, 11);
  EXPECT_TRUE(refused.error().line_in_step());
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
  EXPECT_EQ(server.connections(), 1);
}

TEST(ModbusTcpBus, NeverTakesALateReplyForTheNextOne) {
  // The first reply comes when the second request does; and then, from a gateway with a queue, on the new connection.
  const Bytes late = hex("00 01 00 00 00 09 0B 03 06 00 01 00 01 00 01");
  ScriptedTcpServer server{{stay_silent(), answer(late), good(777)}};
  const auto bus = bus_to(server);
  EXPECT_EQ(bus->read(11, three, brief).error().fault, BusFault::timeout);
  EXPECT_EQ(bus->read(11, three, ample).error().fault, BusFault::garbled);
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
  EXPECT_EQ(server.connections(), 3);
}

TEST(ModbusTcpBus, ThrowsAwayWhatNobodyAskedFor) {
  // The reply comes twice: the copy must not be there for the next request, not even as an error.
  const Bytes reply = hex("00 01 00 00 00 09 0B 03 06 00 01 00 01 00 01");
  Bytes twice = reply;
  twice.insert(twice.end(), reply.begin(), reply.end());
  ScriptedTcpServer server{{answer(twice), good(777)}};
  const auto bus = bus_to(server);
  EXPECT_EQ(*bus->read(11, three, ample), all(1));
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
}

TEST(ModbusTcpBus, ConnectsAgainWhenAnIdleConnectionWasClosed) {
  std::promise<void> closing;
  ScriptedTcpServer server{{[&](int fd, const Bytes& request) {
                              static_cast<void>(good(1)(fd, request));
                              ::shutdown(fd, SHUT_RDWR);
                              closing.set_value();
                              return false;
                            },
                            good(777)}};
  const auto bus = bus_to(server);
  EXPECT_EQ(*bus->read(11, three, ample), all(1));
  closing.get_future().wait();
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
}

const std::vector<Read> three_units{{11, three, ample}, {12, three, ample}, {13, {Table::input_register, 0, 3}, ample}};

TEST(ModbusTcpBus, HasSeveralReadsOnTheirWayAtOnce) {
  // The first two are answered only when the last one has come: it did not wait for them.
  std::vector<Bytes> kept;
  const Step keep = [&](int, const Bytes& request) {
    kept.push_back(request);
    return true;
  };
  ScriptedTcpServer server{{keep, keep,
                            [&](int fd, const Bytes& request) {
                              for (const auto& one : {request, kept.at(1), kept.at(0)})
                                static_cast<void>(good(static_cast<std::uint16_t>(100 + one[6]))(fd, one));
                              return true;
                            },
                            good(777)}};
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = server.port(), .requests_at_once = 3});
  EXPECT_EQ(bus->requests_at_once(), 3);
  EXPECT_EQ(bus->read_together(three_units), (std::vector{all(111), all(112), all(113)}));
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
  EXPECT_EQ(server.connections(), 1);
}

TEST(ModbusTcpBus, LeavesOpenWhatWasNotAnsweredWithTheOthersAndConnectsAnew) {
  ScriptedTcpServer server{{good(1), stay_silent(), good(3), good(777)}};
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = server.port(), .requests_at_once = 3});
  auto reads = three_units;
  for (auto& read : reads) read.timeout = brief;
  EXPECT_EQ(bus->read_together(reads), (std::vector{all(1), {}, all(3)}));
  EXPECT_EQ(*bus->read(12, three, ample), all(777));
  EXPECT_EQ(server.connections(), 2) << "a late reply must have nowhere to arrive";
}

TEST(ModbusTcpBus, LeavesAllOpenWhenTheConnectionIsLostOrNothingListens) {
  std::vector<Step> steps{hang_up_after({}), good(777)};
  auto server = std::make_unique<ScriptedTcpServer>(steps);
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = server->port(), .requests_at_once = 3});
  const std::vector<std::vector<std::uint16_t>> nothing(3);
  EXPECT_EQ(bus->read_together(three_units), nothing);
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
  server.reset();
  EXPECT_EQ(bus->read_together(three_units), nothing);
  bus->interrupt();
  EXPECT_EQ(bus->read_together(three_units), nothing);
}

// Modbus Application Protocol V1.1b3, 6.5, 6.6 and 6.12.
TEST(ModbusTcpBus, HasSeveralWritesOnTheirWayAtOnce) {
  std::vector<Bytes> kept;
  const Step keep = [&](int, const Bytes& request) {
    kept.push_back(request);
    return true;
  };
  const auto echo = [](const Bytes& request) {
    Bytes reply{request.begin(), request.begin() + 12};
    reply[5] = 6; // of function 16 without its values
    return reply;
  };
  ScriptedTcpServer server{{keep, keep, keep,
                            [&](int fd, const Bytes& request) {
                              kept.push_back(request);
                              Bytes refused{request.begin(), request.begin() + 8};
                              refused[5] = 3;
                              refused[7] |= 0x80;
                              refused.push_back(2);
                              send_all(fd, refused);
                              for (const auto i : {2UL, 0UL, 1UL}) send_all(fd, echo(kept.at(i)));
                              return true;
                            },
                            good(777)}};
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = server.port(), .requests_at_once = 4});
  const std::vector<Write> writes{{11, true, 172, {1}, ample},
                                  {12, false, 1, {3}, ample},
                                  {12, false, 8, {0x1234, 0x5678}, ample},
                                  {13, true, 9, {0}, ample}};
  EXPECT_EQ(bus->write_together(writes), (std::vector<bool>{true, true, true, false})) << "the last was refused";
  EXPECT_EQ(*bus->read(11, three, ample), all(777));
  EXPECT_EQ(server.connections(), 1);
  const std::vector<Bytes> frames{
      hex("00 01 00 00 00 06 0B 05 00 AC FF 00"), hex("00 02 00 00 00 06 0C 06 00 01 00 03"),
      hex("00 03 00 00 00 0B 0C 10 00 08 00 02 04 12 34 56 78"), hex("00 04 00 00 00 06 0D 05 00 09 00 00")};
  EXPECT_EQ(kept, frames);
}

TEST(ModbusTcpBus, LeavesAWriteOpenThatWasNotConfirmedWithTheOthers) {
  const Step echo = [](int fd, const Bytes& request) {
    send_all(fd, request);
    return true;
  };
  ScriptedTcpServer server{{echo, stay_silent(), good(777)}};
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = server.port(), .requests_at_once = 4});
  const std::vector<Write> writes{{11, true, 1, {1}, brief}, {11, true, 2, {1}, brief}, {300, true, 2, {1}, brief}};
  EXPECT_EQ(bus->write_together(writes), (std::vector<bool>{true, false, false}));
  EXPECT_EQ(*bus->read(12, three, ample), all(777));
  EXPECT_EQ(server.connections(), 2) << "a late reply must have nowhere to arrive";
}

TEST(ModbusTcpBus, SaysThatNothingListens) {
  int port = 0;
  { port = ScriptedTcpServer{{stay_silent()}}.port(); }
  const auto bus = make_bus(TcpAddress{.host = "127.0.0.1", .port = port});
  const auto refused = bus->read(11, three, ample);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().fault, BusFault::not_connected);
  EXPECT_NE(refused.error().detail.find("connection refused"), std::string::npos) << refused.error().detail;
}

TEST(ModbusTcpBus, ResolvesNamesAndSaysWhenItCannot) {
  ScriptedTcpServer server{{good(777)}};
  const auto known = make_bus(TcpAddress{.host = "localhost", .port = server.port()})->read(11, three, ample);
  ASSERT_TRUE(known) << known.error().detail << " (is localhost in /etc/hosts?)";
  EXPECT_EQ(*known, all(777));
  // RFC 6761, 6.4: no name ends in "invalid".
  const auto unknown = make_bus(TcpAddress{.host = "bay-3.invalid"})->read(11, three, ample);
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().fault, BusFault::not_connected);
  EXPECT_NE(unknown.error().detail.find("cannot be looked up"), std::string::npos) << unknown.error().detail;
}

TEST(ModbusTcpBus, BelievesAWriteOnlyByItsEcho) {
  ScriptedTcpServer server{
      {answer(hex("00 01 00 00 00 06 0B 05 00 03 00 00")), answer(hex("00 02 00 00 00 06 0B 05 00 03 FF 00")),
       answer(hex("00 03 00 00 00 06 0B 06 00 04 00 07")), answer(hex("00 04 00 00 00 03 0B 85 04"))}};
  const auto bus = bus_to(server);
  EXPECT_EQ(bus->write_coil(11, 3, true, ample).error().fault, BusFault::garbled);
  EXPECT_TRUE(bus->write_coil(11, 3, true, ample));
  EXPECT_EQ(bus->write_register(11, 4, 8, ample).error().fault, BusFault::garbled);
  EXPECT_EQ(bus->write_coil(11, 3, false, ample).error().exception_code, 4);
}

TEST(ModbusTcpBus, SendsNothingThatIsImpossible) {
  ScriptedTcpServer server{{good(777)}};
  const auto bus = bus_to(server);
  for (const int unit : {-1, 248, 254, 256})
    EXPECT_EQ(bus->read(unit, three, ample).error().fault, BusFault::refused_locally) << unit;
  EXPECT_EQ(bus->read(11, {Table::holding_register, 0, 126}, ample).error().fault, BusFault::refused_locally);
  EXPECT_EQ(bus->read(11, {Table::holding_register, 0, 0}, ample).error().fault, BusFault::refused_locally);
  EXPECT_EQ(server.connections(), 0);
  for (const int unit : {0, 247, 255}) EXPECT_TRUE(bus->read(unit, three, ample)) << unit;
}

TEST(ModbusTcpBus, WakesWhenInterruptedAndStaysStopped) {
  ScriptedTcpServer server{{stay_silent()}};
  const auto bus = bus_to(server);
  auto reading = std::async(std::launch::async, [&] { return bus->read(11, three, 60s); });
  ASSERT_EQ(server.script().wait_for_requests(1).size(), 1U);
  bus->interrupt();
  ASSERT_EQ(reading.wait_for(10s), std::future_status::ready);
  EXPECT_EQ(reading.get().error().fault, BusFault::not_connected);
  EXPECT_EQ(bus->read(11, three, 60s).error().fault, BusFault::not_connected);
  EXPECT_EQ(server.script().wait_for_requests(1).size(), 1U);
}

TEST(ModbusTcpBus, WorksWithADescriptorBeyondTheReachOfSelect) {
  rlimit before{};
  ASSERT_EQ(::getrlimit(RLIMIT_NOFILE, &before), 0);
  ASSERT_GE(before.rlim_max, 2000U) << "raise the hard limit of open files for this test";
  const rlimit raised{2000, before.rlim_max};
  ASSERT_EQ(::setrlimit(RLIMIT_NOFILE, &raised), 0);
  {
    ScriptedTcpServer server{{good(777)}};
    std::vector<FileDescriptor> taken;
    while (taken.empty() || taken.back().get() < 1100) taken.emplace_back(::dup(STDIN_FILENO));
    const auto bus = bus_to(server);
    const auto reply = bus->read(11, three, ample);
    ASSERT_TRUE(reply) << reply.error().detail;
    EXPECT_EQ(*reply, all(777));
  }
  ASSERT_EQ(::setrlimit(RLIMIT_NOFILE, &before), 0);
}

} // namespace oxherd::modbus_tcp_bus_test
