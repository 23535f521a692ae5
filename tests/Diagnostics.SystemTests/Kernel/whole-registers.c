/*
 * Loaded before user-mode-linux (LD_PRELOAD). Its kernel keeps 2,696 bytes of a process's vector registers, but Linux takes a set back only whole (xstateregs_set in
 * arch/x86/kernel/fpu/regset.c), and with AMX a whole set is 11 KB: the first program of the guest would end with "ptrace set fp regs failed". So what the guest's
 * kernel gives is laid over what the process has; the registers behind it are AMX's, which nobody in the guest uses.
 * Without headers, so that the compiler alone is enough.
 */
typedef unsigned long size;

struct part { void *base; size length; };

extern long syscall(long number, ...);
extern void *memcpy(void *to, const void *from, size length);

enum { ptrace_call = 101, peek_text = 1, peek_data = 2, peek_user = 3, get_register_set = 0x4204, set_register_set = 0x4205, all_vector_registers = 0x202 };

/* The guest has one processor, and only its kernel's thread traces. */
static char whole[64 * 1024];

long ptrace(int request, int process, void *address, void *data)
{
    if (request == peek_text || request == peek_data || request == peek_user) {
        long word = -1;
        return syscall(ptrace_call, request, process, address, &word) < 0 ? -1 : word;
    }

    if (request == set_register_set && (long)address == all_vector_registers) {
        struct part given = *(struct part *)data;
        struct part all = { whole, sizeof whole };
        if (syscall(ptrace_call, get_register_set, process, address, &all) == 0 && all.length > given.length) {
            memcpy(whole, given.base, given.length);
            return syscall(ptrace_call, request, process, address, &all);
        }
    }

    return syscall(ptrace_call, request, process, address, data);
}
