/* Preloaded into a program: what stands in the file SICK says what ails the disk beneath the directory SICK_DIR.
 * "slow 3000": every write and flush of a database takes so many milliseconds longer. "read-only": nothing can be written,
 * as once the system has turned a file system with errors read-only, open files included. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>
#include <sys/types.h>
#include <unistd.h>

#define NEXT(name, type) ((type)dlsym(RTLD_NEXT, name))

static int lies_in_dir(const char* path) {
  const char* dir = getenv("SICK_DIR");
  return dir != NULL && strncmp(path, dir, strlen(dir)) == 0;
}

/* What the file says; empty: all is well. */
static void ailment(char* text, size_t size) {
  text[0] = '\0';
  const char* name = getenv("SICK");
  if (name == NULL) return;
  const int fd = NEXT("open", int (*)(const char*, int, ...))(name, O_RDONLY | O_CLOEXEC);
  if (fd < 0) return;
  const ssize_t n = read(fd, text, size - 1);
  text[n > 0 ? n : 0] = '\0';
  close(fd);
}

static int is_read_only(const char* path) {
  if (!lies_in_dir(path)) return 0;
  char text[32];
  ailment(text, sizeof text);
  if (strncmp(text, "read-only", 9) != 0) return 0;
  errno = EROFS;
  return 1;
}

/* Waits when the disk is slow; says whether it cannot be written. */
static int suffers(int fd) {
  char link[64], path[4096], text[32];
  snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  const ssize_t n = readlink(link, path, sizeof path - 1);
  if (n <= 0) return 0;
  path[n] = '\0';
  if (!lies_in_dir(path)) return 0;
  ailment(text, sizeof text);
  if (strncmp(text, "read-only", 9) == 0) {
    errno = EROFS;
    return 1;
  }
  if (strncmp(text, "slow ", 5) != 0 || strstr(path, "sqlite") == NULL) return 0;
  /* In steps, so that it ends with the ailment. */
  for (int left = atoi(text + 5); left > 0 && text[0] != '\0'; left -= 10) {
    usleep(10000);
    ailment(text, sizeof text);
  }
  return 0;
}

int fsync(int fd) { return suffers(fd) ? -1 : NEXT("fsync", int (*)(int))(fd); }
int fdatasync(int fd) { return suffers(fd) ? -1 : NEXT("fdatasync", int (*)(int))(fd); }
ssize_t pwrite(int fd, const void* data, size_t size, off_t at) {
  return suffers(fd) ? -1 : NEXT("pwrite", ssize_t (*)(int, const void*, size_t, off_t))(fd, data, size, at);
}
ssize_t pwrite64(int fd, const void* data, size_t size, off64_t at) {
  return suffers(fd) ? -1 : NEXT("pwrite64", ssize_t (*)(int, const void*, size_t, off64_t))(fd, data, size, at);
}
int ftruncate(int fd, off_t size) { return suffers(fd) ? -1 : NEXT("ftruncate", int (*)(int, off_t))(fd, size); }
int ftruncate64(int fd, off64_t size) { return suffers(fd) ? -1 : NEXT("ftruncate64", int (*)(int, off64_t))(fd, size); }
int posix_fallocate(int fd, off_t at, off_t size) {
  return suffers(fd) ? EROFS : NEXT("posix_fallocate", int (*)(int, off_t, off_t))(fd, at, size);
}
int unlink(const char* path) { return is_read_only(path) ? -1 : NEXT("unlink", int (*)(const char*))(path); }
int rename(const char* from, const char* to) {
  return is_read_only(to) ? -1 : NEXT("rename", int (*)(const char*, const char*))(from, to);
}

static int open_by(const char* name, const char* path, int flags, mode_t mode) {
  const int writes = (flags & O_ACCMODE) != O_RDONLY || (flags & O_CREAT) != 0;
  return writes && is_read_only(path) ? -1 : NEXT(name, int (*)(const char*, int, ...))(path, flags, mode);
}
int open(const char* path, int flags, ...) {
  va_list rest;
  va_start(rest, flags);
  const mode_t mode = (flags & O_CREAT) != 0 ? (mode_t)va_arg(rest, int) : 0;
  va_end(rest);
  return open_by("open", path, flags, mode);
}
int open64(const char* path, int flags, ...) {
  va_list rest;
  va_start(rest, flags);
  const mode_t mode = (flags & O_CREAT) != 0 ? (mode_t)va_arg(rest, int) : 0;
  va_end(rest);
  return open_by("open64", path, flags, mode);
}

static int told_of(const char* name, const char* path, struct statvfs* out) {
  const int code = NEXT(name, int (*)(const char*, struct statvfs*))(path, out);
  if (code == 0 && is_read_only(path)) out->f_flag |= ST_RDONLY;
  return code;
}
int statvfs(const char* path, struct statvfs* out) { return told_of("statvfs", path, out); }
