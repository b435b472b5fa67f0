#pragma once

#include <map>
#include <optional>
#include <string>
#include <variant>

#include <tl/expected.hpp>

#include "daemon/alarm_report/from_store.hpp"
#include "daemon/control_socket/calibrate_request.hpp"
#include "daemon/control_socket/control_request.hpp"
#include "daemon/records.hpp"
#include "daemon/store/history.hpp"
#include "daemon/store/trend.hpp"

namespace oxherd::daemon {

struct StatusRequest {};
struct AlarmsRequest {};
struct ActRequest {
  std::string room, alarm;
  PersonAct act;
};
struct RegimeRequest {
  std::string room;
  RegimeAct act;
};
/// Records in one answer at most.
inline constexpr int history_limit_max = 100000;
struct HistoryRequest {
  bool of_alarms = false; ///< else of readings
  HistoryQuery query;
};
/// How the alarm system performed in a time.
struct AlarmReportRequest {
  AlarmReportQuery query;
};
/// A quantity of a sensor in steps for a plot.
struct TrendRequest {
  TrendQuery query;
};
/// A recorded oxygen reading with everything it was formed from.
struct RecordedRequest {
  std::string room, sensor;
  std::optional<WallTime> at; ///< the last reading at or before it; absent: the last of all
};
/// A reading taken apart: a recorded one, or one of typed values by their names on the command line.
struct ExplainRequest {
  RecordedRequest recorded;                  ///< asked for when `values` is empty
  std::map<std::string, std::string> values; ///< "signal": "11.9 mV"
};
/// A proof test of an output: begun, or answered by the person who looked.
struct ProveRequest {
  enum class Step { begin, worked, failed };
  std::string output;
  Step step = Step::begin;
  std::string author, comment;
  alarms::Monotonic duration{0}; ///< of the driving; 0: as usual
};
/// Every calibration record, with the cells in use.
struct CalibrationsRequest {
  bool in_words = false; ///< as `oxherd calibrations --json` prints it: judged, with what is due
  std::string cell;      ///< in words: of this one alone, by "room/sensor" or its serial number
};
/// The certificate of one calibration record, as `oxherd certificate` writes it.
struct CertificateRequest {
  std::int64_t number = 0;
  bool as_page = false; ///< {"html": "..."}; else its statements
};
/// How the telling of people is doing; a test of its routes; the answer of a person to one.
struct NotifyRequest {
  enum class What { show, test, answer };
  What what = What::show;
  std::string contact;     ///< whose routes are tested; empty: everyone's
  std::int64_t number = 0; ///< of the test that is answered
  std::string author;
};
using Request = std::variant<StatusRequest, AlarmsRequest, ActRequest, RegimeRequest, HistoryRequest,
                             AlarmReportRequest, TrendRequest, RecordedRequest, ExplainRequest, CalibrationsRequest,
                             CertificateRequest, CalibrateRequest, NotifyRequest, ProveRequest, ControlRequest>;

/// Reads one request line. The error is a text for the person at the other end.
[[nodiscard]] tl::expected<Request, std::string> parse_request(const std::string& line);

/// Who does it, as the record will name them; empty for a request that changes nothing.
[[nodiscard]] std::string author_of(const Request& request);

/// {"ok":true,"result":RESULT} with a result that is JSON already.
[[nodiscard]] std::string accepted(const std::string& result_json);
/// {"ok":false,"kind":KIND,"error":TEXT}; kinds: refused, unknown, busy, internal, none (rightly asked, and nothing of
/// it is recorded).
[[nodiscard]] std::string declined(const char* kind, const std::string& text);

} // namespace oxherd::daemon
