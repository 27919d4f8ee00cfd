/* Every function of libasound that the sound crates name, each a jump to where its slot points: first to
 * one that says it is missing, and after fifthpeg_asound_load() into the library. The arguments stay where
 * the caller put them, so no function's form needs to be known. */

#include <dlfcn.h>
#include <stddef.h>

#define HIDDEN __attribute__((visibility("hidden")))

/* ENOSYS, as libasound gives its errors. */
static long missing(void) { return -38; }

#if defined(__x86_64__)
#define JUMP(name) "jmp *fifthpeg_slot_" name "(%rip)\n"
#elif defined(__aarch64__)
#define JUMP(name)                                                                                       \
    "adrp x16, fifthpeg_slot_" name "\n"                                                                 \
    "ldr x16, [x16, :lo12:fifthpeg_slot_" name "]\n"                                                     \
    "br x16\n"
#endif

#define FUNCTION(name)                                                                                   \
    HIDDEN void *fifthpeg_slot_##name = (void *)missing;                                                 \
    __asm__(".text\n.balign 8\n.globl " #name "\n.hidden " #name "\n.type " #name ",%function\n" #name   \
            ":\n" JUMP(#name) ".size " #name ",.-" #name "\n");
#include "functions.h"
#undef FUNCTION

static const struct {
    const char *name;
    void **slot;
} functions[] = {
#define FUNCTION(name) {#name, &fifthpeg_slot_##name},
#include "functions.h"
#undef FUNCTION
};

/* Loads the library: how many of the functions it does not have, or -1 where there is no library. To be
 * called once. What an older library does not have goes on saying that it is missing. */
int fifthpeg_asound_load(void) {
    int absent = 0;
    void *library = dlopen("libasound.so.2", RTLD_NOW | RTLD_LOCAL);
    if (!library)
        return -1;
    for (size_t i = 0; i < sizeof functions / sizeof *functions; i++) {
        void *found = dlsym(library, functions[i].name);
        if (found)
            *functions[i].slot = found;
        else
            absent++;
    }
    return absent;
}
