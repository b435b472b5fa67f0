#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/sparkplug/metric.hpp"

/// Payloads of Sparkplug B as bytes, and back.
/// @checked tests/daemon/sparkplug/payload_test.cpp
namespace oxherd::daemon::sparkplug {

/// A metric as it stands in a birth; in a message of data it has neither unit nor type (6.4.6).
struct Told {
  const Definition* definition = nullptr;
  Sampled sampled;
};

/// NBIRTH and DBIRTH: name, type, unit and quality of every metric.
[[nodiscard]] std::string birth_payload(const std::vector<Told>& metrics, std::uint8_t seq, WallTime sent);
/// NDATA and DDATA. The metrics are put in the order of their times (5.16).
[[nodiscard]] std::string data_payload(std::vector<Told> metrics, std::uint8_t seq, WallTime sent);
/// NDEATH: bdSeq alone, and no sequence number (4.2.1.3).
[[nodiscard]] std::string death_payload(std::uint8_t bd_seq, WallTime sent);

/// The name of the one command that there is (5.17).
inline constexpr std::string_view rebirth_name = "Node Control/Rebirth";
inline constexpr std::string_view bd_seq_name = "bdSeq";

/// What somebody asks of the edge node.
struct Command {
  bool rebirth = false;
  std::size_t others = 0;  ///< metrics that ask for something else
  std::string first_other; ///< the name of the first of them, 80 bytes at most
};

/// Reads an NCMD, from whomever it comes; the error is a sentence.
[[nodiscard]] tl::expected<Command, std::string> read_command(std::string_view payload);

} // namespace oxherd::daemon::sparkplug
