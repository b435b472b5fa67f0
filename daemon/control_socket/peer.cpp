#include "daemon/control_socket/peer.hpp"

#include <algorithm>
#include <array>

#include <fmt/core.h>
#include <pwd.h>
#include <sys/socket.h>

namespace oxherd::daemon {

std::optional<Peer> peer_of(int socket) {
  ucred who{};
  socklen_t size = sizeof who;
  if (::getsockopt(socket, SOL_SOCKET, SO_PEERCRED, &who, &size) != 0) return std::nullopt;
  Peer peer{who.pid, who.uid, std::vector<gid_t>(64)};
  auto bytes = static_cast<socklen_t>(peer.groups.size() * sizeof(gid_t));
  if (::getsockopt(socket, SOL_SOCKET, SO_PEERGROUPS, peer.groups.data(), &bytes) != 0) {
    peer.groups.resize(bytes / sizeof(gid_t)); // there are more than that: now it is known how many
    if (::getsockopt(socket, SOL_SOCKET, SO_PEERGROUPS, peer.groups.data(), &bytes) != 0) bytes = 0;
  }
  peer.groups.resize(bytes / sizeof(gid_t));
  peer.groups.push_back(who.gid);
  return peer;
}

bool may_ask(const Peer& peer, const SocketOwner& owner) {
  return peer.uid == 0 || peer.uid == owner.uid ||
         std::find(peer.groups.begin(), peer.groups.end(), owner.gid) != peer.groups.end();
}

std::string account_of(const Peer& peer) {
  passwd entry{};
  passwd* found = nullptr;
  std::array<char, 4096> buffer{};
  if (::getpwuid_r(peer.uid, &entry, buffer.data(), buffer.size(), &found) != 0 || found == nullptr)
    return fmt::format("uid {}", peer.uid);
  return fmt::format("{} (uid {})", found->pw_name, peer.uid);
}

} // namespace oxherd::daemon
