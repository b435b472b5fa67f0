#pragma once

namespace oxherd::daemon {

/// Asks the system to run the calling thread before all ordinary work of the machine (SCHED_RR at its lowest
/// priority, sched(7)), so that a relay does not wait for a backup or an update. Threads that it starts later are
/// ordinary again. Only for threads that wait most of the time: the decisions and the buses.
/// @return  false: not permitted here, and the thread goes on as before; LimitRTPRIO=1 of systemd permits it
[[nodiscard]] bool make_thread_urgent();

} // namespace oxherd::daemon
