/* Loaded before the C library (LD_PRELOAD): counts what reaches files under one folder, in all processes together, and
 * fails the n-th call of a kind, or every one from the n-th on. Python, SQLite and Arrow all write through these calls.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

enum kind { WRITE = 1, FSYNC = 2, RENAME = 4, MKDIR = 8, CREATE = 16, LINK = 32 };

struct control {
    int kinds;   /* which are counted, a sum of the above; 0 lets all pass */
    int at;      /* the first that fails, from 1 */
    int error;   /* errno that it fails with */
    int for_good; /* whether all after it fail too */
    int count;   /* so many were called */
    char folder[PATH_MAX];
};

static struct control *control;

__attribute__((constructor)) static void begin(void)
{
    const char *path = getenv("FAILING_DISK");
    int file = path ? open(path, O_RDWR | O_CLOEXEC) : -1;
    if (file < 0)
        return;
    void *at = mmap(NULL, sizeof *control, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
    if (at != MAP_FAILED)
        control = at;
    close(file);
}

static int fails(enum kind kind, const char *path)
{
    if (!control || !(control->kinds & kind) || strncmp(path, control->folder, strlen(control->folder)))
        return 0;
    int count = __sync_add_and_fetch(&control->count, 1);
    if (count == control->at || (control->for_good && count > control->at)) {
        errno = control->error;
        return 1;
    }
    return 0;
}

static int fails_file(enum kind kind, int file)
{
    char link[64], path[PATH_MAX];
    if (!control || !control->kinds)
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0)
        return 0;
    path[length] = 0;
    return fails(kind, path);
}

#define REAL(name) static __typeof__(name) *real; if (!real) real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)

ssize_t write(int file, const void *bytes, size_t size)
{ REAL(write); return fails_file(WRITE, file) ? -1 : real(file, bytes, size); }
ssize_t pwrite(int file, const void *bytes, size_t size, off_t at)
{ REAL(pwrite); return fails_file(WRITE, file) ? -1 : real(file, bytes, size, at); }
ssize_t pwrite64(int file, const void *bytes, size_t size, off64_t at)
{ REAL(pwrite64); return fails_file(WRITE, file) ? -1 : real(file, bytes, size, at); }
ssize_t writev(int file, const struct iovec *parts, int count)
{ REAL(writev); return fails_file(WRITE, file) ? -1 : real(file, parts, count); }
ssize_t sendfile64(int to, int from, off64_t *at, size_t size);
ssize_t sendfile64(int to, int from, off64_t *at, size_t size)
{ REAL(sendfile64); return fails_file(WRITE, to) ? -1 : real(to, from, at, size); }
int fsync(int file) { REAL(fsync); return fails_file(FSYNC, file) ? -1 : real(file); }
int fdatasync(int file) { REAL(fdatasync); return fails_file(FSYNC, file) ? -1 : real(file); }
int rename(const char *from, const char *to) { REAL(rename); return fails(RENAME, to) ? -1 : real(from, to); }
int renameat(int a, const char *from, int b, const char *to)
{ REAL(renameat); return fails(RENAME, to) ? -1 : real(a, from, b, to); }
int mkdir(const char *path, mode_t mode) { REAL(mkdir); return fails(MKDIR, path) ? -1 : real(path, mode); }
int mkdirat(int at, const char *path, mode_t mode)
{ REAL(mkdirat); return fails(MKDIR, path) ? -1 : real(at, path, mode); }
int link(const char *from, const char *to) { REAL(link); return fails(LINK, to) ? -1 : real(from, to); }
int linkat(int a, const char *from, int b, const char *to, int flags)
{ REAL(linkat); return fails(LINK, to) ? -1 : real(a, from, b, to, flags); }

#define OPENING(name)                                                                     \
    int name(const char *path, int flags, ...)                                            \
    {                                                                                     \
        static int (*real)(const char *, int, ...);                                       \
        mode_t mode = 0;                                                                  \
        if (flags & O_CREAT) {                                                            \
            va_list rest;                                                                 \
            va_start(rest, flags);                                                        \
            mode = va_arg(rest, mode_t);                                                  \
            va_end(rest);                                                                 \
        }                                                                                 \
        if (!real)                                                                        \
            real = (int (*)(const char *, int, ...))dlsym(RTLD_NEXT, #name);              \
        return (flags & O_CREAT) && fails(CREATE, path) ? -1 : real(path, flags, mode);   \
    }
OPENING(open)
OPENING(open64)
