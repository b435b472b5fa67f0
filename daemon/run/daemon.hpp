#pragma once

#include <atomic>
#include <deque>
#include <filesystem>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <vector>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>

#include "config/load.hpp"
#include "daemon/control_socket/requests.hpp"
#include "daemon/control_socket/server.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/outputs/dropped.hpp"
#include "daemon/outputs/output_keeper.hpp"
#include "daemon/room/site.hpp"
#include "daemon/run/answers.hpp"
#include "daemon/run/calibration_desk.hpp"
#include "daemon/run/cells_in_force.hpp"
#include "daemon/run/fault_log.hpp"
#include "daemon/run/plant.hpp"
#include "daemon/run/survey.hpp"
#include "daemon/run/users_noted.hpp"
#include "daemon/run/wording.hpp"
#include "daemon/service/service_manager.hpp"
#include "daemon/sinks.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// The running daemon: one loop that owns every decision (readings, alarms, outputs), with bus threads that post polls
/// to it and sinks that take records from it. Nothing on the loop waits for a disk, a broker or a bus.
class Daemon {
public:
  struct Parts {
    std::filesystem::path config_file, state_dir;
    std::vector<std::filesystem::path> profile_dirs;
    config::Settings settings;
    std::unique_ptr<Store> store;
    Wording wording;
  };
  /// @throws std::runtime_error when the control socket cannot be made
  explicit Daemon(Parts parts);
  ~Daemon();
  Daemon(const Daemon&) = delete;
  Daemon& operator=(const Daemon&) = delete;

  void run(); ///< until SIGTERM or SIGINT

private:
  // The decision path.
  void on_poll(const Poll& poll);
  void on_written(const WriteResult& result);
  // A pass over all rooms, in slices (daemon_pass.cpp).
  void begin_pass();
  void pass_slice();
  void end_pass();
  void record(const Outcome& outcome);
  /// Once no poll waits to be judged: the relays of many rooms come before what is told about any of them. What comes
  /// next on another way tells all of it before, so that the order stays.
  void tell_later(Outcome outcome);
  void tell_untold();
  void tell_first(); ///< of the untold
  void tell(const Outcome& outcome);
  void report_room(std::size_t room, Monotonic now, WallTime wall);
  void note_fault(const std::string& what, const std::optional<drivers::BusError>& error, log::Level level);
  // Outputs (daemon_outputs.cpp); on_written too.
  void note_proof(const ProofNote& note, WallTime wall);
  void drive_outputs(std::chrono::steady_clock::time_point decided);
  void drop(const std::vector<GivenUp>& given_up); ///< once, after a reload
  void note_clock_step(Monotonic now, WallTime wall);
  void say_daily_caution(Monotonic now);

  // The life of the cells (daemon_cells.cpp).
  void review_cells(); ///< judges every cell anew, aside; what comes of it is set when it is there
  void set_cell_reasons(const CellReasons& reasons);

  // Requests of people (daemon_requests.cpp).
  /// @param peer  who sent it by the Unix socket; absent: it came by the page, which knows its people itself
  void on_line(const std::string& line, const std::optional<Peer>& peer, Reply reply);
  void on_request(const Request& request, Reply reply);
  /// The same for other threads: brings it to the loop.
  [[nodiscard]] http::DecisionLoop for_others();
  void note_user(identity::UserNote note); ///< once, whatever the number of times it is told
  void answer_status(Reply reply);
  void answer_alarms(Reply reply);
  void answer_act(const ActRequest& request, Reply reply);
  void answer_regime(const RegimeRequest& request, Reply reply);
  void answer_control(const ControlRequest& request, Reply reply); ///< daemon_control.cpp
  void keep_programs(); ///< writes aside what a restart has to know of programs; daemon_control.cpp
  void restore_programs();
  void answer_prove(const ProveRequest& request, Reply reply); ///< daemon_outputs.cpp
  /// Replies with `result` and whether it is recorded, once the store knows, or when patience ran out.
  void answer_when_recorded(JsonObject result, Reply reply);
  void answer_recorded(const RecordedRequest& request, Reply reply);
  void answer_explain(const ExplainRequest& request, Reply reply);
  void answer_calibrations(const CalibrationsRequest& request, Reply reply);
  void answer_certificate(const CertificateRequest& request, Reply reply);
  void answer_calibrate(const CalibrateRequest& request, Reply reply);
  void calibration_stored(CalibrationRecord record);
  void answer_notify(const NotifyRequest& request, const Reply& reply);
  void answer_history(const HistoryRequest& request, Reply reply);
  void answer_trend(const TrendRequest& request, Reply reply);
  void answer_alarm_report(const AlarmReportRequest& request, Reply reply);
  [[nodiscard]] Surroundings surroundings() const;

  // Reload and stop (daemon_reload.cpp).
  void wait_for_signal();
  void reload();
  void adopt(config::Settings next);
  void finish_reload();
  void stop();
  void start_buses();
  void announce_all(Monotonic now, WallTime wall);

  [[nodiscard]] std::vector<std::uint64_t> progress() const; ///< service thread

  boost::asio::io_context loop_{1};
  boost::asio::thread_pool aside_{1};     ///< slow work that nobody's air waits for: files, joining bus threads
  boost::asio::thread_pool questions_{2}; ///< answers that only read, so that a long one keeps no record waiting
  boost::asio::signal_set signals_{loop_};
  boost::asio::steady_timer beat_{loop_};
  boost::asio::steady_timer stop_deadline_{loop_};

  const std::filesystem::path config_file_, state_dir_;
  const std::vector<std::filesystem::path> profile_dirs_;
  const Wording wording_;
  const WallTime started_;
  std::unique_ptr<Store> store_;
  std::vector<CalibrationRecord> calibration_records_; ///< all there are, as the store has them
  Site site_;
  Survey survey_{loop_, site_};
  OutputKeeper outputs_;
  std::map<std::string, ProofRecord> proofs_; ///< by the name of the output
  UsersNoted users_noted_;
  Sinks sinks_;
  FaultLog faults_;
  CalibrationDesk desk_;

  mutable std::mutex workers_mutex_; ///< the service thread reads progress while a reload exchanges the workers
  Workers workers_;
  std::uint64_t generation_ = 0; ///< of the workers; posts from an older one are ignored
  std::atomic<std::uint64_t> beats_{0};
  std::shared_ptr<std::atomic<int>> posts_waiting_ = std::make_shared<std::atomic<int>>(0);
  std::atomic<std::uint64_t> polls_dropped_{0};
  std::deque<Outcome> untold_; ///< of polls, in their order; untold_max at most

  std::size_t next_room_ = 0;            ///< of the pass
  std::optional<Monotonic> wall_offset_; ///< wall minus monotonic, to notice steps of the wall clock
  Monotonic next_caution_{0}, next_review_{0}, next_keeping_{0};
  bool any_program_kept_ = false; ///< in the file that a restart reads
  bool reloading_ = false, reload_again_ = false, stopping_ = false;
  /// What an orderly stop still has to leave behind: outputs, and what they are to hold.
  std::map<std::size_t, OutputValue> trips_awaited_;

  std::map<std::size_t, std::string> dropping_; ///< what the last reload gave up, by numbers beyond the outputs

  std::set<std::pair<uid_t, std::string>> people_; ///< accounts and the names they act by
  std::unique_ptr<ControlServer> control_;
  std::unique_ptr<ServiceManager> service_; // last: its thread reads everything above
};

/// The records of the store; none, and an error in the log, when they cannot be read. Blocks.
[[nodiscard]] std::vector<CalibrationRecord> load_calibrations(Store& store);

/// What the journal says of the proof tests of these outputs. Blocks.
[[nodiscard]] std::map<std::string, ProofRecord> load_proofs(const std::filesystem::path& state_dir,
                                                             const config::Settings& settings);

/// What the journal says of the actuators of these settings. Blocks.
[[nodiscard]] std::vector<ControlRemembered> load_control(const std::filesystem::path& state_dir,
                                                          const config::Settings& settings);

/// How often the cells are judged without a cause. Due dates are days, so an hour is prompt.
inline constexpr std::chrono::hours review_period{1};

} // namespace oxherd::daemon
