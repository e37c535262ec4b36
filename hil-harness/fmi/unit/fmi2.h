/* The C interface of a unit for co-simulation, as far as a unit of ours uses its words.
 *
 * Source  Functional Mock-up Interface for Model Exchange and Co-Simulation, version 2.0 (types 2.1.2, functions 2.1 and
 *         4.2); written from its text
 */
#ifndef DUSKLINE_FMI2_H
#define DUSKLINE_FMI2_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef void* fmi2Component;
typedef void* fmi2ComponentEnvironment;
typedef void* fmi2FMUstate;
typedef unsigned int fmi2ValueReference;
typedef double fmi2Real;
typedef int fmi2Integer;
typedef int fmi2Boolean;
typedef char fmi2Char;
typedef const fmi2Char* fmi2String;
typedef char fmi2Byte;

typedef enum { fmi2OK, fmi2Warning, fmi2Discard, fmi2Error, fmi2Fatal, fmi2Pending } fmi2Status;
typedef enum { fmi2ModelExchange, fmi2CoSimulation } fmi2Type;
typedef enum { fmi2DoStepStatus, fmi2PendingStatus, fmi2LastSuccessfulTime, fmi2Terminated } fmi2StatusKind;

typedef struct {
  void (*logger)(fmi2ComponentEnvironment, fmi2String instance, fmi2Status, fmi2String category,
                 fmi2String message, ...);
  void* (*allocateMemory)(size_t, size_t);
  void (*freeMemory)(void*);
  void (*stepFinished)(fmi2ComponentEnvironment, fmi2Status);
  fmi2ComponentEnvironment componentEnvironment;
} fmi2CallbackFunctions;

#ifdef __cplusplus
}
#endif
#endif
