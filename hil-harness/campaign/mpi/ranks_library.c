/* Messages between the processes of a job, by MPI. Loaded only when mpirun has started the program. */
#include "hil-harness/campaign/mpi/ranks_library.h"

#include <mpi.h>

int duskline_ranks_join(int* rank, int* size) {
  int level = 0;
  if (MPI_Init_thread(0, 0, MPI_THREAD_FUNNELED, &level) != MPI_SUCCESS || level < MPI_THREAD_FUNNELED)
    return 1;
  MPI_Comm_set_errhandler(MPI_COMM_WORLD, MPI_ERRORS_RETURN);
  return MPI_Comm_rank(MPI_COMM_WORLD, rank) != MPI_SUCCESS ||
         MPI_Comm_size(MPI_COMM_WORLD, size) != MPI_SUCCESS;
}

int duskline_ranks_send(int to, const char* bytes, int count) {
  return MPI_Send(bytes, count, MPI_BYTE, to, 0, MPI_COMM_WORLD) != MPI_SUCCESS;
}

int duskline_ranks_waiting(int* from) {
  int there = 0, count = 0;
  MPI_Status status;
  if (MPI_Iprobe(MPI_ANY_SOURCE, 0, MPI_COMM_WORLD, &there, &status) != MPI_SUCCESS) return -2;
  if (!there) return -1;
  if (MPI_Get_count(&status, MPI_BYTE, &count) != MPI_SUCCESS) return -2;
  *from = status.MPI_SOURCE;
  return count;
}

int duskline_ranks_take(int from, char* bytes, int count) {
  return MPI_Recv(bytes, count, MPI_BYTE, from, 0, MPI_COMM_WORLD, MPI_STATUS_IGNORE) != MPI_SUCCESS;
}

void duskline_ranks_leave(void) {
  MPI_Finalize();
}
