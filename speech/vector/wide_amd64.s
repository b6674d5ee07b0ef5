#include "textflag.h"

// func dot4Wide(out *[4]float32, w, x *float32, row, n int)
TEXT ·dot4Wide(SB), NOSPLIT, $0-40
	MOVQ out+0(FP), DI
	MOVQ w+8(FP), SI
	MOVQ x+16(FP), DX
	MOVQ row+24(FP), R8
	MOVQ n+32(FP), CX
	SHLQ $2, R8
	LEAQ (SI)(R8*1), R9
	LEAQ (SI)(R8*2), R10
	LEAQ (R9)(R8*2), R11
	SHLQ $2, CX
	XORQ AX, AX
	VXORPS Y0, Y0, Y0
	VXORPS Y1, Y1, Y1
	VXORPS Y2, Y2, Y2
	VXORPS Y3, Y3, Y3
	VXORPS Y4, Y4, Y4
	VXORPS Y5, Y5, Y5
	VXORPS Y6, Y6, Y6
	VXORPS Y7, Y7, Y7
	MOVQ CX, BX
	ANDQ $-64, BX
	JZ   last

pair:
	VMOVUPS     (DX)(AX*1), Y8
	VMOVUPS     32(DX)(AX*1), Y9
	VFMADD231PS (SI)(AX*1), Y8, Y0
	VFMADD231PS (R9)(AX*1), Y8, Y1
	VFMADD231PS (R10)(AX*1), Y8, Y2
	VFMADD231PS (R11)(AX*1), Y8, Y3
	VFMADD231PS 32(SI)(AX*1), Y9, Y4
	VFMADD231PS 32(R9)(AX*1), Y9, Y5
	VFMADD231PS 32(R10)(AX*1), Y9, Y6
	VFMADD231PS 32(R11)(AX*1), Y9, Y7
	ADDQ        $64, AX
	CMPQ        AX, BX
	JLT         pair

last:
	CMPQ        AX, CX
	JGE         sum
	VMOVUPS     (DX)(AX*1), Y8
	VFMADD231PS (SI)(AX*1), Y8, Y0
	VFMADD231PS (R9)(AX*1), Y8, Y1
	VFMADD231PS (R10)(AX*1), Y8, Y2
	VFMADD231PS (R11)(AX*1), Y8, Y3

sum:
	VADDPS       Y4, Y0, Y0
	VADDPS       Y5, Y1, Y1
	VADDPS       Y6, Y2, Y2
	VADDPS       Y7, Y3, Y3
	VHADDPS      Y1, Y0, Y0
	VHADDPS      Y3, Y2, Y2
	VHADDPS      Y2, Y0, Y0
	VEXTRACTF128 $1, Y0, X1
	VADDPS       X1, X0, X0
	VMOVUPS      X0, (DI)
	VZEROUPPER
	RET

// func addProductWide(y, a, b *float32, n int)
TEXT ·addProductWide(SB), NOSPLIT, $0-32
	MOVQ y+0(FP), DI
	MOVQ a+8(FP), SI
	MOVQ b+16(FP), DX
	MOVQ n+24(FP), CX
	SHLQ $2, CX
	XORQ AX, AX

product:
	VMOVUPS     (DI)(AX*1), Y0
	VMOVUPS     (SI)(AX*1), Y1
	VFMADD231PS (DX)(AX*1), Y1, Y0
	VMOVUPS     Y0, (DI)(AX*1)
	ADDQ        $32, AX
	CMPQ        AX, CX
	JLT         product
	VZEROUPPER
	RET

// func addScaledWide(y, a *float32, k float32, n int)
TEXT ·addScaledWide(SB), NOSPLIT, $0-32
	MOVQ         y+0(FP), DI
	MOVQ         a+8(FP), SI
	VBROADCASTSS k+16(FP), Y1
	MOVQ         n+24(FP), CX
	SHLQ         $2, CX
	XORQ         AX, AX

scaled:
	VMOVUPS     (DI)(AX*1), Y0
	VFMADD231PS (SI)(AX*1), Y1, Y0
	VMOVUPS     Y0, (DI)(AX*1)
	ADDQ        $32, AX
	CMPQ        AX, CX
	JLT         scaled
	VZEROUPPER
	RET
