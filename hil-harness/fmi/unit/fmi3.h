/* The C interface of a unit for co-simulation, as far as a unit of ours uses its words.
 *
 * Source  Functional Mock-up Interface, version 3.0 (types 2.2, functions 2.3 and 4.2); written from its text
 */
#ifndef DUSKLINE_FMI3_H
#define DUSKLINE_FMI3_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef void* fmi3Instance;
typedef void* fmi3InstanceEnvironment;
typedef void* fmi3FMUState;
typedef uint32_t fmi3ValueReference;
typedef float fmi3Float32;
typedef double fmi3Float64;
typedef int8_t fmi3Int8;
typedef uint8_t fmi3UInt8;
typedef int16_t fmi3Int16;
typedef uint16_t fmi3UInt16;
typedef int32_t fmi3Int32;
typedef uint32_t fmi3UInt32;
typedef int64_t fmi3Int64;
typedef uint64_t fmi3UInt64;
typedef bool fmi3Boolean;
typedef bool fmi3Clock;
typedef char fmi3Char;
typedef const fmi3Char* fmi3String;
typedef uint8_t fmi3Byte;
typedef const fmi3Byte* fmi3Binary;

typedef enum { fmi3OK, fmi3Warning, fmi3Discard, fmi3Error, fmi3Fatal } fmi3Status;
typedef enum {
  fmi3Independent,
  fmi3Constant,
  fmi3Fixed,
  fmi3Tunable,
  fmi3Discrete,
  fmi3Dependent
} fmi3DependencyKind;
typedef enum { fmi3IntervalNotYetKnown, fmi3IntervalUnchanged, fmi3IntervalChanged } fmi3IntervalQualifier;

typedef void (*fmi3LogMessageCallback)(fmi3InstanceEnvironment, fmi3Status, fmi3String category,
                                       fmi3String message);
typedef void (*fmi3ClockUpdateCallback)(fmi3InstanceEnvironment);
typedef void (*fmi3IntermediateUpdateCallback)(fmi3InstanceEnvironment, fmi3Float64 time,
                                               fmi3Boolean set_requested, fmi3Boolean get_allowed,
                                               fmi3Boolean step_finished, fmi3Boolean can_return_early,
                                               fmi3Boolean* early_return_requested,
                                               fmi3Float64* early_return_time);
typedef void (*fmi3LockPreemptionCallback)();
typedef void (*fmi3UnlockPreemptionCallback)();

#ifdef __cplusplus
}
#endif
#endif
