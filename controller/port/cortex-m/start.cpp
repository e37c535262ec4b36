// Start of the image: vectors, floating-point unit on, data and zeroed memory in place, then main.
//
// Source: Armv7-M Architecture Reference Manual (vector table B1.5.3, CPACR B3.2.20).
#include <stdint.h>

extern "C" {
extern uint32_t data_begin, data_end, data_image, bss_begin, bss_end, stack_top;
int main();
[[noreturn]] void reset_handler();
[[noreturn]] void fault_handler();
}

namespace {

struct Vectors {
  const void* stack;
  void (*handler[15])();
};

void start() {
  reset_handler();
}
void fault() {
  fault_handler();
}

[[gnu::section(".vectors"), gnu::used]] const Vectors kVectors{
    &stack_top,
    {start, fault, fault, fault, fault, fault, nullptr, nullptr, nullptr, nullptr, fault, fault, nullptr,
     fault, fault}};

}  // namespace

extern "C" [[gnu::naked]] void reset_handler() {
  // full access to coprocessors 10 and 11, before any floating-point instruction
  asm volatile(
      "ldr r0, =0xE000ED88\n"
      "ldr r1, [r0]\n"
      "orr r1, r1, #(0xF << 20)\n"
      "str r1, [r0]\n"
      "dsb\n"
      "isb\n"
      "b start_image\n");
}

extern "C" [[gnu::used]] void start_image() {
  const uint32_t* from = &data_image;
  for (uint32_t* to = &data_begin; to < &data_end;) *to++ = *from++;
  for (uint32_t* to = &bss_begin; to < &bss_end;) *to++ = 0;
  main();
  fault_handler();
}
