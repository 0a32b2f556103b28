/* Adds 5 ms to each fsync and fdatasync: the disk of the bench flatters. Loaded with LD_PRELOAD. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <unistd.h>

static int slowly(const char *name, int file) {
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, name);
    usleep(5000);
    return real(file);
}

int fsync(int file) { return slowly("fsync", file); }
int fdatasync(int file) { return slowly("fdatasync", file); }
