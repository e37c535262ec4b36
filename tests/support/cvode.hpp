// Integrates any system of ours with CVODE (SUNDIALS 6.4.1, BDF, dense solver), as an independent reference.
// A system whose jacobian() is the whole N x N matrix may be asked for it; otherwise CVODE takes differences.
#pragma once

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <stdexcept>
#include <string>

#include "plant-model/integrate/dense_matrix.hpp"

namespace duskline::tests {

enum class CvodeJacobian { by_differences, from_system };

template <class System, std::size_t N, class Vector = std::array<double, N>>
class Cvode {
 public:
  using State = Vector;

  Cvode(System& system, const State& x, double t, double relative, const State& absolute,
        CvodeJacobian jacobian = CvodeJacobian::by_differences)
      : system_(&system) {
    check(SUNContext_Create(nullptr, &context_), "SUNContext_Create");
    x_ = N_VNew_Serial(kSize, context_);
    absolute_ = N_VNew_Serial(kSize, context_);
    matrix_ = SUNDenseMatrix(kSize, kSize, context_);
    solver_ = SUNLinSol_Dense(x_, matrix_, context_);
    memory_ = CVodeCreate(CV_BDF, context_);
    std::copy(x.begin(), x.end(), N_VGetArrayPointer(x_));
    std::copy(absolute.begin(), absolute.end(), N_VGetArrayPointer(absolute_));
    check(CVodeInit(memory_, derivative, t, x_), "CVodeInit");
    check(CVodeSVtolerances(memory_, relative, absolute_), "CVodeSVtolerances");
    check(CVodeSetUserData(memory_, this), "CVodeSetUserData");
    check(CVodeSetLinearSolver(memory_, solver_, matrix_), "CVodeSetLinearSolver");
    if constexpr (requires(const System& s, plant::DenseMatrix& j) { s.jacobian(State{}, 0.0, j); }) {
      if (jacobian == CvodeJacobian::from_system) {
        check(CVodeSetJacFn(memory_, jacobian_function), "CVodeSetJacFn");
      }
    }
    check(CVodeSetMaxNumSteps(memory_, 1000000), "CVodeSetMaxNumSteps");
  }
  ~Cvode() {
    CVodeFree(&memory_);
    SUNLinSolFree(solver_);
    SUNMatDestroy(matrix_);
    N_VDestroy(absolute_);
    N_VDestroy(x_);
    SUNContext_Free(&context_);
  }
  Cvode(const Cvode&) = delete;
  Cvode& operator=(const Cvode&) = delete;

  /// Forgets the multistep history, as after a change of input.
  void restart(const State& x, double t) {
    std::copy(x.begin(), x.end(), N_VGetArrayPointer(x_));
    check(CVodeReInit(memory_, t, x_), "CVodeReInit");
  }

  /// The state at `end`, never looking past it.
  State integrate(double end) {
    double reached = 0;
    check(CVodeSetStopTime(memory_, end), "CVodeSetStopTime");
    check(CVode(memory_, end, x_, &reached, CV_NORMAL), "CVode");
    return state_of(x_);
  }

  long steps() const {
    long count = 0;
    CVodeGetNumSteps(memory_, &count);
    return count;
  }
  long evaluations() const { return evaluations_; }

 private:
  static constexpr sunindextype kSize = static_cast<sunindextype>(N);

  static State state_of(N_Vector x) {
    State state{};
    if constexpr (requires { state.resize(N); }) state.resize(N);
    std::copy_n(N_VGetArrayPointer(x), N, state.begin());
    return state;
  }

  static void check(int status, const char* call) {
    if (status < 0) throw std::runtime_error(std::string(call) + " returned " + std::to_string(status));
  }

  static int derivative(realtype t, N_Vector x, N_Vector dxdt, void* user) {
    auto* self = static_cast<Cvode*>(user);
    ++self->evaluations_;
    const State state = state_of(x);
    State rate = state;
    (*self->system_)(state, rate, t);
    std::copy(rate.begin(), rate.end(), N_VGetArrayPointer(dxdt));
    return 0;
  }

  static int jacobian_function(realtype t, N_Vector x, N_Vector, SUNMatrix j, void* user, N_Vector, N_Vector,
                               N_Vector) {
    auto* self = static_cast<Cvode*>(user);
    plant::DenseMatrix matrix(N, N);
    self->system_->jacobian(state_of(x), t, matrix);
    for (std::size_t column = 0; column < N; ++column) {
      double* target = SUNDenseMatrix_Column(j, static_cast<sunindextype>(column));
      for (std::size_t row = 0; row < N; ++row) target[row] = matrix(row, column);
    }
    return 0;
  }

  System* system_;
  SUNContext context_ = nullptr;
  N_Vector x_ = nullptr;
  N_Vector absolute_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver solver_ = nullptr;
  void* memory_ = nullptr;
  long evaluations_ = 0;
};

}  // namespace duskline::tests
