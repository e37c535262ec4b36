/* What the library for mpirun offers: five functions in C. */
#pragma once

#ifdef __cplusplus
extern "C" {
#endif

/* Joins the job; 0: all well. */
int duskline_ranks_join(int* rank, int* size);
/* Sends bytes; 0: all well. */
int duskline_ranks_send(int to, const char* bytes, int count);
/* Size in bytes of a message that waits, and from whom; -1: none does, -2: the job is broken. */
int duskline_ranks_waiting(int* from);
/* Takes the message that waits; 0: all well. */
int duskline_ranks_take(int from, char* bytes, int count);
void duskline_ranks_leave(void);

#ifdef __cplusplus
}
#endif
