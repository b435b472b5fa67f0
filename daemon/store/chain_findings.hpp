#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "daemon/store/chain.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// A head that somebody has noted: that many links, and the hash of the last.
struct ChainHead {
  std::int64_t position = 0;
  std::string hash;
};
/// As it is noted and typed: "1204:9f86d0...". Empty: it is none.
[[nodiscard]] std::optional<ChainHead> chain_head_from(std::string_view text);
[[nodiscard]] std::string text_of(const ChainHead& head);

/// One place where the audit trail is not as it was written.
struct ChainBreak {
  std::string kind; ///< "journal" or "calibration"; empty: of the chain itself
  std::int64_t number = 0;
  std::string what; ///< for a person: "was changed after it was written"
};

struct ChainFindings {
  std::int64_t journal_lines = 0, calibration_records = 0;
  std::optional<WallTime> first, last; ///< of the journal
  std::optional<ChainHead> head;       ///< empty: there is no link
  std::vector<ChainBreak> breaks;      ///< at most breaks_told
  std::int64_t break_count = 0;
};
inline constexpr std::size_t breaks_told = 100;

/// Goes through the whole audit trail, read-only, beside a running daemon or without one. Every break is found by
/// itself: one changed line does not make those behind it wrong.
/// @param noted     a head that must be in the chain
/// @param progress  called now and then with the part that is done, 0 to 1
/// @checked tests/daemon/store/chain_test.cpp; tests/system/test_records.py hashes the file a second time, in Python
[[nodiscard]] tl::expected<ChainFindings, StoreError> examine_chain(const std::filesystem::path& state_dir,
                                                                    const std::optional<ChainHead>& noted,
                                                                    const std::function<void(double)>& progress);

} // namespace oxherd::daemon
