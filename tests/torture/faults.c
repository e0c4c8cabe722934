/* Faults of the disk, jumps of the clock, and kills in the midst of a write, for LD_PRELOAD. What is wrong just now stands in the file that
 * $TORTURE_FAULTS names (struct Switch), shared with the one who turns it. Only regular files beneath
 * $TORTURE_HOME are touched by faults of the disk, and by those of reading the session log alone. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

enum { NONE, FULL, WRITE_ERROR, SYNC_ERROR, READ_ERROR, SLOW };
enum { SLOW_US = 150000 };

struct Switch {
    volatile int fault;
    volatile int hits; /* how often a fault was felt */
    volatile long long clock_ns;
    volatile int steps; /* the process ends at this step of writing the log from now; 0: at none */
    volatile int unsynced; /* whether something was written into the log that was not synced since */
};

static struct Switch *now;
static const char *home;

__attribute__((constructor)) static void begin(void)
{
    const char *path = getenv("TORTURE_FAULTS");
    home = getenv("TORTURE_HOME");
    int fd = path ? open(path, O_RDWR) : -1;
    if (fd < 0 || !home)
        return;
    void *there = mmap(NULL, sizeof(struct Switch), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    now = there == MAP_FAILED ? NULL : there;
    close(fd);
}

static int ours(int fd)
{
    char link[64], path[4096];
    struct stat found;
    if (fstat(fd, &found) || !S_ISREG(found.st_mode))
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    path[length > 0 ? length : 0] = 0;
    if (now->fault == READ_ERROR && !strstr(path, "/sessions.db"))
        return 0;
    return !strncmp(path, home, strlen(home));
}

static int felt(int fault, int fd)
{
    int before = errno;
    int is = now && now->fault == fault && ours(fd);
    errno = before;
    if (is)
        __sync_fetch_and_add(&now->hits, 1);
    return is;
}

static int is_log(int fd)
{
    char link[64], path[4096];
    int before = errno;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    path[length > 0 ? length : 0] = 0;
    errno = before;
    return !strncmp(path, home, strlen(home)) && strstr(path, "/sessions.db");
}

static int is_last_step(void)
{
    return now->steps > 0 && !__sync_sub_and_fetch(&now->steps, 1);
}

static void die(void)
{
    kill(getpid(), SIGKILL);
    for (;;)
        pause();
}

#define REAL(name) ((__typeof__(name) *)dlsym(RTLD_NEXT, #name))
#define REFUSE_WRITE(fd) \
    if (felt(FULL, fd)) { errno = ENOSPC; return -1; } \
    if (felt(WRITE_ERROR, fd)) { errno = EIO; return -1; }

/* A write at a place of a file, as SQLite writes; of its last one half is written. */
#define WRITE_AT(real) \
    if (now && is_log(fd)) { \
        now->unsynced = 1; \
        if (is_last_step()) { real(fd, from, size / 2, at); die(); } \
    } \
    return real(fd, from, size, at);

ssize_t write(int fd, const void *from, size_t size)
{
    REFUSE_WRITE(fd)
    return REAL(write)(fd, from, size);
}

ssize_t pwrite(int fd, const void *from, size_t size, off_t at)
{
    REFUSE_WRITE(fd)
    WRITE_AT(REAL(pwrite))
}

ssize_t pwrite64(int fd, const void *from, size_t size, off64_t at)
{
    REFUSE_WRITE(fd)
    WRITE_AT(REAL(pwrite64))
}

int ftruncate(int fd, off_t size)
{
    REFUSE_WRITE(fd)
    return REAL(ftruncate)(fd, size);
}

int ftruncate64(int fd, off64_t size)
{
    REFUSE_WRITE(fd)
    return REAL(ftruncate64)(fd, size);
}

ssize_t read(int fd, void *to, size_t size)
{
    if (felt(READ_ERROR, fd)) { errno = EIO; return -1; }
    return REAL(read)(fd, to, size);
}

ssize_t pread(int fd, void *to, size_t size, off_t at)
{
    if (felt(READ_ERROR, fd)) { errno = EIO; return -1; }
    return REAL(pread)(fd, to, size, at);
}

ssize_t pread64(int fd, void *to, size_t size, off64_t at)
{
    if (felt(READ_ERROR, fd)) { errno = EIO; return -1; }
    return REAL(pread64)(fd, to, size, at);
}

static int synced(int fd, int (*sync)(int))
{
    if (felt(SYNC_ERROR, fd)) { errno = EIO; return -1; }
    if (felt(SLOW, fd))
        usleep(SLOW_US);
    if (!now || !is_log(fd))
        return sync(fd);
    if (is_last_step())
        die();
    int failed = sync(fd);
    if (!failed)
        now->unsynced = 0;
    if (is_last_step())
        die();
    return failed;
}

int fsync(int fd) { return synced(fd, REAL(fsync)); }
int fdatasync(int fd) { return synced(fd, REAL(fdatasync)); }

int clock_gettime(clockid_t clock, struct timespec *told)
{
    int failed = REAL(clock_gettime)(clock, told);
    if (!failed && now && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE)) {
        long long ns = told->tv_sec * 1000000000LL + told->tv_nsec + now->clock_ns;
        told->tv_sec = ns / 1000000000LL;
        told->tv_nsec = ns % 1000000000LL;
    }
    return failed;
}

int gettimeofday(struct timeval *restrict told, void *restrict zone)
{
    int failed = REAL(gettimeofday)(told, zone);
    if (!failed && now)
        told->tv_sec += now->clock_ns / 1000000000LL;
    return failed;
}

time_t time(time_t *told)
{
    time_t at = REAL(time)(NULL) + (now ? now->clock_ns / 1000000000LL : 0);
    if (told)
        *told = at;
    return at;
}

/* Whoever waits until a moment of the wall clock has taken it from above, but the kernel knows the true one:
 * PortAudio waits so for its thread, takes it for late, and crashes. Moments of a steady clock are small. */
int pthread_cond_timedwait(pthread_cond_t *cond, pthread_mutex_t *mutex, const struct timespec *until)
{
    typedef int (*Wait)(pthread_cond_t *, pthread_mutex_t *, const struct timespec *);
    Wait wait = (Wait)dlvsym(RTLD_NEXT, "pthread_cond_timedwait", "GLIBC_2.3.2");
    struct timespec true_until = *until;
    if (!wait)
        wait = REAL(pthread_cond_timedwait);
    if (now && until->tv_sec > 1000000000) {
        long long ns = until->tv_sec * 1000000000LL + until->tv_nsec - now->clock_ns;
        true_until.tv_sec = ns / 1000000000LL;
        true_until.tv_nsec = ns % 1000000000LL;
    }
    return wait(cond, mutex, &true_until);
}
