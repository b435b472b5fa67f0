#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/calibration/care.hpp"

namespace oxherd::daemon {

/// The cells in use and every calibration record.
struct CellsAndRecords {
  std::vector<CellInUse> cells;
  std::vector<CalibrationRecord> records;
};

/// The result of a `calibrations` request: {"cells":[{"room":...,"sensor":...,"basis":...}],"records":[...]}, the basis
/// in the form of daemon/store/basis_text.hpp, records in that of daemon/calibration/record_json.hpp.
[[nodiscard]] std::string calibrations_answer(const std::vector<CellInUse>& cells,
                                              const std::vector<CalibrationRecord>& records);

/// Its inverse.
/// @return a sentence for what is no such answer; nothing is left out in silence
[[nodiscard]] tl::expected<CellsAndRecords, std::string> cells_and_records_from(std::string_view result);

} // namespace oxherd::daemon
