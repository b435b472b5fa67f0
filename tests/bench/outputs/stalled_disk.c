/* Preloaded into a program: while the file "stall" lies in the directory STALL_DIR, every write and every flush of a file
 * in that directory hangs, as on a disk that has stopped answering. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static void hang_while_stalled(int fd) {
  const char* dir = getenv("STALL_DIR");
  if (dir == NULL) return;
  char link[64], path[4096], stall[4200];
  snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  const ssize_t n = readlink(link, path, sizeof path - 1);
  if (n <= 0) return;
  path[n] = '\0';
  if (strncmp(path, dir, strlen(dir)) != 0) return;
  snprintf(stall, sizeof stall, "%s/stall", dir);
  while (access(stall, F_OK) == 0) usleep(20000);
}

#define NEXT(name, type) ((type)dlsym(RTLD_NEXT, name))

int fsync(int fd) {
  hang_while_stalled(fd);
  return NEXT("fsync", int (*)(int))(fd);
}
int fdatasync(int fd) {
  hang_while_stalled(fd);
  return NEXT("fdatasync", int (*)(int))(fd);
}
ssize_t pwrite(int fd, const void* data, size_t size, off_t at) {
  hang_while_stalled(fd);
  return NEXT("pwrite", ssize_t (*)(int, const void*, size_t, off_t))(fd, data, size, at);
}
ssize_t pwrite64(int fd, const void* data, size_t size, off64_t at) {
  hang_while_stalled(fd);
  return NEXT("pwrite64", ssize_t (*)(int, const void*, size_t, off64_t))(fd, data, size, at);
}
ssize_t write(int fd, const void* data, size_t size) {
  hang_while_stalled(fd);
  return NEXT("write", ssize_t (*)(int, const void*, size_t))(fd, data, size);
}
