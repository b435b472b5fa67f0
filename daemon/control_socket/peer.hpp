#pragma once

#include <optional>
#include <string>
#include <vector>

#include <sys/types.h>

namespace oxherd::daemon {

/// The process at the other end of a Unix socket, as the kernel knows it (SO_PEERCRED, SO_PEERGROUPS): it cannot claim
/// to be another.
struct Peer {
  pid_t pid = 0;
  uid_t uid = 0;
  std::vector<gid_t> groups; ///< its own and the supplementary ones
};

/// Empty when the kernel does not say.
[[nodiscard]] std::optional<Peer> peer_of(int socket);

/// Whose a socket is, by its file.
struct SocketOwner {
  uid_t uid = 0;
  gid_t gid = 0;
};

/// Root, the account that the socket belongs to, and the members of its group: also when somebody loosened its mode.
[[nodiscard]] bool may_ask(const Peer& peer, const SocketOwner& owner);

/// "okafor (uid 1000)", or the number alone for an account without a name. Asks the system's directory of accounts,
/// which may be a slow server: not for the decision thread.
[[nodiscard]] std::string account_of(const Peer& peer);

} // namespace oxherd::daemon
